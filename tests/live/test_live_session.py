"""The whole way: sound played into a room, through the machine, prompts out of a loudspeaker."""

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from threading import Timer

import pytest
import soundfile
from benchmarks.edges.chair import Chair, laid_out, offline, spoken
from benchmarks.edges.sound_room import RATE, SoundRoom, sounding, sounding_in

from sidecue.conductor.assembly import recogniser_of
from sidecue.hearing.port import Block, Recogniser
from sidecue.session.events import CueGiven, DeviceBack, DeviceLost
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.voice import PyttsVoice

FIRST_PROMPTS = ("Confirm name, birth date, history and consent.", "Use two details, not the face.")

pytestmark = pytest.mark.xdist_group("sound")


@pytest.fixture(scope="module")
def voice(tmp_path_factory: pytest.TempPathFactory) -> Iterator[CachedVoice]:
    with closing(CachedVoice(PyttsVoice(), tmp_path_factory.mktemp("prompts"))) as made:
        yield made


@pytest.fixture(scope="module")
def recogniser() -> Iterator[Recogniser]:
    with closing(recogniser_of("auto", None)) as made:
        yield made


@pytest.fixture
def chair(room: SoundRoom, voice: CachedVoice) -> Iterator[Chair]:
    made = Chair.live(voice)
    yield made
    made.loudspeaker.close()


def test_a_session_by_voice_through_real_devices_and_the_same_offline(
    room: SoundRoom,
    voice: CachedVoice,
    recogniser: Recogniser,
    chair: Chair,
    tmp_path: Path,
) -> None:
    """The first prompts are cut short, a cue is obeyed, and a cue of another step over the next
    prompt is not. Each is said when what goes before has come to pass, however late that is."""
    heard = room.listen("prompts.raw")
    before_the_cue: list[float] = []
    said, when = 0, 0.0

    def say(name: str) -> None:
        nonlocal said, when
        said, when = said + 1, chair.clock.now()
        words = spoken(name)
        room.play(laid_out(0.6 + len(words) / RATE, (0.5, words)))

    def over(_: Block) -> bool:
        nonlocal said
        now = chair.clock.now()
        match said:
            case 1 if "quiet" in chair.decisions and not chair.conductor.speaking(now):
                before_the_cue.append(sounding_in(heard))
                say("okay-tray-identity-confirmed.flite")
            case 2 if "sign-in.done" in chair.decisions and chair.mouth.busy_until(now) > now:
                say("okay-tray-bow-is-through.espeak-ng-en-gb-m3")
            case 3 if chair.decisions[-1] == "-":
                return True
            case 2 if now - when > 12.0:  # so busy a machine acts on nothing that old: once more
                said = 1
        return now > 90.0

    kept = chair.run(recogniser, over, lambda: say("stop-talking.espeak"))
    assert [each for each in chair.decisions if each != "-"] == ["quiet", "sign-in.done"]
    assert chair.decisions[-1] == "-"
    assert chair.conductor.state.done == ("sign-in",)
    whole = sum(sounding(each.samples, each.rate) for each in map(voice.render, FIRST_PROMPTS))
    assert before_the_cue[0] < whole - 0.5
    assert sounding_in(heard) > before_the_cue[0] + 0.5, "nothing was said after the cue"
    path = tmp_path / "kept.wav"
    soundfile.write(path, kept.samples, RATE, subtype="PCM_16")
    assert offline(path, recogniser, voice) == chair.decisions


def test_both_devices_gone_are_told_in_time_and_no_half_cue_counts(
    room: SoundRoom, recogniser: Recogniser, chair: Chair
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

    def over(block: Block) -> bool:
        now, shown = chair.clock.now(), [set(lost) for _, lost in chair.shown]
        both = {"microphone", "loudspeaker"}
        if len(pulled) == 1 and both in shown and now > chair.shown[-1][0] + 1.0:
            back()
        if len(pulled) < 2:
            return now > 60.0  # never noticed
        return shown[-1] == set() or now > pulled[1] + 20.0

    chair.run(recogniser, over, begun)
    assert pulled, "it ended before anything was pulled out"
    events = {(type(each), each.device): at for at, each in chair.timed(DeviceLost, DeviceBack)}
    for device in ("microphone", "loudspeaker"):
        assert chair.between(pulled[0], events[DeviceLost, device]) < 2.0
        assert chair.between(pulled[1], events[DeviceBack, device]) < 3.0
    assert not chair.timed(CueGiven)
