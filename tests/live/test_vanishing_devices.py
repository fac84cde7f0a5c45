"""Devices that go away and come back, through the real sound library and a sound server."""

import time
from contextlib import closing

import numpy as np
import pytest
from benchmarks.edges.patience import FairTimer, wait_for
from benchmarks.edges.sound_room import LOUDSPEAKER, MICROPHONE, SoundRoom

from sidecue.hearing.microphone import Microphone, input_devices
from sidecue.hearing.port import AudioError
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker

pytestmark = pytest.mark.xdist_group("sound")

#: Said and shown within two seconds; here the device's share of them.
TOLD_WITHIN = 1.8
BACK_WITHIN = 3.0


def mute(room: SoundRoom, on: bool) -> None:
    room.pactl("set-source-mute", MICROPHONE, str(int(on)))


def suspend(room: SoundRoom, on: bool) -> None:
    room.pactl("suspend-source", MICROPHONE, str(int(on)))


def unplug(room: SoundRoom, on: bool) -> None:
    if on:
        room.unplug_microphone()
    else:
        room.plug_microphone(extra=True)  # so it comes back under another number


def restart(room: SoundRoom, on: bool) -> None:
    if on:
        room.stop()
    else:
        room.start()


def read_until(microphone: Microphone, lost: bool, within: float) -> None:
    """Read on until the microphone is lost, or back; it has to be within so many seconds."""
    timer = FairTimer()
    for block in microphone.blocks():
        took = timer.read()
        if microphone.lost == lost and (lost or len(block.samples)):
            return
        assert took < within, f"lost {microphone.lost} after {took:.1f} s: {microphone.why_lost}"
    raise AssertionError


def test_it_is_known_by_both_names_and_the_monitors_are_none(room: SoundRoom) -> None:
    found = {device.name: device for device in input_devices()}
    assert not found[MICROPHONE].monitor
    assert found[MICROPHONE].called == "Desk_microphone"
    assert found["room.monitor"].monitor
    assert found[f"{LOUDSPEAKER}.monitor"].monitor
    with closing(Microphone("desk_microphone")) as by_other_name:
        assert by_other_name.device.name == MICROPHONE
    with closing(Microphone()) as default:  # the server's own choice is a monitor
        assert default.device.name == MICROPHONE
    with pytest.raises(AudioError, match=r"is not there; there are: .*desk_mic"):
        Microphone("headset")


@pytest.mark.parametrize("how", [unplug, suspend, mute, restart])
def test_a_microphone_that_goes_away_is_noticed_and_taken_up_again(how, room: SoundRoom) -> None:
    with closing(Microphone(MICROPHONE)) as microphone:
        read_until(microphone, lost=False, within=BACK_WITHIN)
        how(room, True)
        read_until(microphone, lost=True, within=TOLD_WITHIN)
        time.sleep(0.3)
        how(room, False)
        read_until(microphone, lost=False, within=BACK_WITHIN)
        assert microphone.device.name == MICROPHONE


def test_a_loudspeaker_that_goes_away_is_noticed_and_taken_up_again(room: SoundRoom) -> None:
    """With it gone the server offers another sink: that is not taken for it."""
    with closing(PortAudioLoudspeaker(LOUDSPEAKER)) as speaker:
        for _ in range(2):
            room.unplug_loudspeaker()
            wait_for(lambda: not speaker.present, TOLD_WITHIN)
            time.sleep(0.5)
            assert not speaker.present
            room.plug_loudspeaker()
            wait_for(lambda: speaker.present, BACK_WITHIN)
            assert "mouth" in speaker.name
        room.pactl("set-sink-mute", LOUDSPEAKER, "1")
        wait_for(lambda: not speaker.present, TOLD_WITHIN)
        room.pactl("set-sink-mute", LOUDSPEAKER, "0")
        wait_for(lambda: speaker.present, BACK_WITHIN)


def test_sound_that_is_cut_off_in_the_middle_of_a_word_is_no_end_of_it(room: SoundRoom) -> None:
    """Muted while somebody speaks: nothing follows that would end the utterance."""
    tone = 8000 * np.sin(np.arange(16_000 * 20) * 2 * np.pi * 300 / 16_000)
    with closing(Microphone(MICROPHONE)) as microphone:
        player = room.play(tone)
        loud, muted, after, zeros = 0, False, FairTimer(), 0
        for block in microphone.blocks():
            if len(block.samples) and int(np.abs(block.samples).max()) > 4000:
                loud += len(block.samples)
            if loud > 16_000 and not muted:
                mute(room, True)
                muted, after = True, FairTimer()
            if muted and len(block.samples) and not block.samples.any():
                zeros += len(block.samples)
            if muted and after.read() > 0.8:
                break
        mute(room, False)
        player.kill()
    assert muted
    assert zeros == 0
