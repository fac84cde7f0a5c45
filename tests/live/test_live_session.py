"""The whole way: sound played into a room, through the machine, prompts out of a loudspeaker."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from threading import Timer

import numpy as np
import pytest
import soundfile
from live_chair import Chair, laid_out, offline, spoken
from sound_room import RATE, SoundRoom

from sidecue.hearing.sphinx import SphinxRecogniser
from sidecue.session.events import CueGiven, DeviceBack, DeviceLost
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.voice import PyttsVoice

FIRST_PROMPTS = ("Confirm name, birth date, history and consent.", "Use two details, not the face.")

pytestmark = pytest.mark.xdist_group("pulse")


@pytest.fixture(scope="module")
def voice(tmp_path_factory: pytest.TempPathFactory) -> Iterator[CachedVoice]:
    with closing(CachedVoice(PyttsVoice(), tmp_path_factory.mktemp("prompts"))) as made:
        yield made


@pytest.fixture(scope="module")
def recogniser() -> Iterator[SphinxRecogniser]:
    with closing(SphinxRecogniser()) as made:
        yield made


def loud(path: Path) -> list[tuple[float, float]]:
    """Stretches of sound in a raw recording, seconds."""
    samples = np.fromfile(path, np.int16).astype(int)
    places = np.flatnonzero(np.abs(samples) > 200)
    groups = np.split(places, np.flatnonzero(np.diff(places) > 0.35 * RATE) + 1)
    return [(group[0] / RATE, group[-1] / RATE) for group in groups if len(group)]


@pytest.fixture
def chair(room: SoundRoom, voice: CachedVoice) -> Iterator[Chair]:
    made = Chair.live(voice)
    yield made
    made.loudspeaker.close()


def test_a_session_by_voice_through_real_devices_and_the_same_offline(
    room: SoundRoom,
    voice: CachedVoice,
    recogniser: SphinxRecogniser,
    chair: Chair,
    tmp_path: Path,
) -> None:
    """The first prompt is cut short, a cue is obeyed, and a cue of another step over the next
    prompt is not."""
    said = laid_out(
        8.5,
        (0.5, spoken("stop-talking.espeak")),
        (3.3, spoken("okay-tray-identity-confirmed.flite")),
        (6.9, spoken("okay-tray-bow-is-through.espeak-ng-en-gb-m3")),
    )
    heard = room.listen("prompts.raw")
    kept = chair.run(recogniser, 11.0, lambda: room.play(said))
    assert [each for each in chair.decisions if each != "-"] == ["quiet", "sign-in.done"]
    assert "-" in chair.decisions
    assert chair.conductor.state.done == ("sign-in",)
    first, *rest = loud(heard)
    cut = [sound.text for sound in map(voice.render, FIRST_PROMPTS)]
    assert first[1] - first[0] < sum(voice.render(text).lasts for text in cut) - 1.0
    assert rest, "nothing was said after the cue"
    path = tmp_path / "kept.wav"
    soundfile.write(path, kept.samples, RATE, subtype="PCM_16")
    assert offline(path, recogniser, voice) == chair.decisions


def test_both_devices_gone_are_told_in_time_and_no_half_cue_counts(
    room: SoundRoom, recogniser: SphinxRecogniser, chair: Chair
) -> None:
    """Both are pulled out in the middle of a cue, and plugged in again."""
    cue = laid_out(4.0, (0.3, spoken("okay-tray-identity-confirmed.flite")))
    pulled = []

    def pull() -> None:
        room.unplug_microphone()
        room.unplug_loudspeaker()
        pulled.append(chair.clock.now())

    def back() -> None:
        room.plug_loudspeaker()
        room.plug_microphone()
        pulled.append(chair.clock.now())

    def begun() -> None:
        room.play(cue)
        Timer(1.2, pull).start()  # "okay tray identity" is out by then
        Timer(4.2, back).start()

    chair.run(recogniser, 7.5, begun)
    events = {(type(each), each.device): at for at, each in chair.timed(DeviceLost, DeviceBack)}
    for device in ("microphone", "loudspeaker"):
        assert events[DeviceLost, device] - pulled[0] < 2.0
        assert events[DeviceBack, device] - pulled[1] < 3.0
    assert {"microphone", "loudspeaker"} in [set(lost) for _, lost in chair.shown]
    assert not chair.timed(CueGiven)
