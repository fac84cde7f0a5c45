"""The real output: PortAudio into a PulseAudio null sink, heard again on its monitor."""

import os
import signal
import subprocess
import sys
import time

import pytest
from benchmarks.edges.patience import share, wait_for
from benchmarks.edges.sound_room import LOUDSPEAKER, SoundRoom, missing, sounding_in
from loudspeaker_contract import LoudspeakerContract, tone

from sidecue.speaking.loudspeaker import PortAudioLoudspeaker, explain, output_devices
from sidecue.speaking.port import VoiceError

pytestmark = pytest.mark.xdist_group("sound")

needs_sound_server = pytest.mark.skipif(bool(missing()), reason=f"missing: {missing()}")

#: Seconds of sound that may be lost (the sound library drops what it had ready when it was not
#: asked in time) or gained (edges of holes); losing a block at the end, or a whole prompt, is more.
LOST, GAINED = 0.1, 0.02


class WallClock:
    """Real time; in `until` as a machine of our own would have it."""

    @property
    def now(self):
        # read twice inside one assertion it must be the same moment
        return self._now

    def __init__(self):
        self._now = time.monotonic()

    def wait(self, seconds):
        time.sleep(max(0.0, seconds))
        self._now = time.monotonic()

    def until(self, condition, seconds):
        wait_for(lambda: condition(time.monotonic()), seconds)

    def ask(self, function):
        """Ask again when the machine was elsewhere between the clock's reading and the answer."""
        while True:
            begun = time.monotonic()
            answer = function(begun)
            if time.monotonic() - begun < 0.005:
                return answer


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    with SoundRoom(tmp_path_factory.mktemp("pulse")) as made:
        yield made


@pytest.fixture
def clock():
    return WallClock()


@pytest.fixture
def speaker(room):
    made = PortAudioLoudspeaker(LOUDSPEAKER)
    yield made
    made.close()


@needs_sound_server
class TestPortAudioLoudspeaker(LoudspeakerContract):
    late = 0.9  # s; each fault would be of more than a second

    @pytest.fixture
    def speaker(self, speaker, clock):
        clock.wait(0)
        return speaker


def until_quiet(speaker):
    """Wait until it says that nothing plays, and the recorder has it too."""
    wait_for(lambda: speaker.busy_until(0.0) == 0.0, 8.0)
    time.sleep(0.3 / share())


@needs_sound_server
def test_what_is_played_is_heard_whole_and_ends_when_it_said(room, speaker):
    heard = room.listen("heard.raw")
    for sounds, lasts in (([tone(1.0)], 1.0), ([tone(0.8, 16_000), tone(0.8, 48_000)], 1.6)):
        before = sounding_in(heard)
        for sound in sounds:
            speaker.play(sound, 0.0)
        until_quiet(speaker)
        assert lasts - LOST < sounding_in(heard) - before < lasts + GAINED


@needs_sound_server
def test_silence_is_heard_within_fifty_milliseconds(room, speaker):
    """A busy machine may be late once, but not each time."""
    late = []
    while not late or (min(late) > 0.05 and len(late) < 8):
        heard = room.listen(f"silenced-{len(late)}.raw")
        begun = time.monotonic()
        speaker.play(tone(6.0), 0.0)
        time.sleep(0.5)
        asked = time.monotonic() - begun
        speaker.silence(asked)
        until_quiet(speaker)
        # What was heard leaves out the latency that start and end share: the device's own.
        late.append(sounding_in(heard) - asked + speaker.latency)
        assert late[-1] < 3.0, "it was heard to the end"
    assert min(late) < 0.05


@needs_sound_server
def test_words_after_silence_do_not_bring_back_what_was_cut(room, speaker):
    heard = room.listen("cut.raw")
    begun = time.monotonic()
    speaker.play(tone(6.0), 0.0)
    time.sleep(0.4)
    speaker.silence(0.4)
    cut = time.monotonic() - begun
    speaker.play(tone(0.6), 0.4)
    until_quiet(speaker)
    assert 0.6 - LOST < sounding_in(heard) < cut + 0.6 + 1.0  # of the six seconds nothing more


@needs_sound_server
def test_an_output_is_chosen_by_name_and_an_unknown_one_lists_those_there(room):
    assert LOUDSPEAKER in [device.name for device in output_devices()]
    with pytest.raises(VoiceError, match=r"'gramophone' is not there; there are: .*mouth.*--mute"):
        PortAudioLoudspeaker("gramophone")


@needs_sound_server
def test_a_vanished_device_is_told_within_two_seconds_and_used_again_on_return(room):
    told = []
    speaker = PortAudioLoudspeaker(
        LOUDSPEAKER, on_lost=lambda: told.append("lost"), on_back=lambda: told.append("back")
    )
    try:
        speaker.play(tone(5.0), 0.0)
        room.stop()
        wait_for(lambda: told == ["lost"], 2.0)
        assert not speaker.present
        assert speaker.play(tone(0.5), 0.0) > 0.5  # the session goes on, in silence
        speaker.silence(0.0)
        room.start()
        wait_for(lambda: told == ["lost", "back"], 3.0)
        assert speaker.present
        heard = room.listen("back.raw")
        speaker.play(tone(1.0), 0.0)
        until_quiet(speaker)
        assert 1.0 - LOST < sounding_in(heard) < 1.0 + GAINED
    finally:
        speaker.close()


@needs_sound_server
def test_a_hanging_sound_library_is_left_behind(room):
    told = []
    speaker = PortAudioLoudspeaker(
        LOUDSPEAKER, on_lost=lambda: told.append("lost"), on_back=lambda: told.append("back")
    )
    try:
        os.kill(speaker._child.pid, signal.SIGSTOP)
        wait_for(lambda: told == ["lost", "back"], 6.0)
        assert speaker.play(tone(0.2), 0.0) > 0.2
    finally:
        speaker.close()


@needs_sound_server
def test_ten_losses_in_a_row_leave_a_working_loudspeaker(room):
    told = []
    speaker = PortAudioLoudspeaker(LOUDSPEAKER, on_back=lambda: told.append("back"))
    try:
        for count in range(1, 11):
            os.kill(speaker._child.pid, signal.SIGKILL)
            wait_for(lambda count=count: len(told) == count, 6.0)
        heard = room.listen("tenth.raw")
        speaker.play(tone(0.5), 0.0)
        until_quiet(speaker)
        assert 0.5 - LOST < sounding_in(heard) < 0.5 + GAINED
    finally:
        speaker.close()


def test_without_portaudio_the_message_names_the_package(monkeypatch, tmp_path):
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(VoiceError, match=r"PortAudio is missing; install libportaudio2.*--mute"):
        PortAudioLoudspeaker()
    with pytest.raises(VoiceError, match="libportaudio2"):
        output_devices()


def test_other_faults_are_one_line_with_a_mend():
    assert "\n" not in explain("PortAudioError: Error querying device -1")
    assert explain("PortAudioError: Error querying device -1").startswith("no loudspeaker: ")


def test_importing_the_loudspeaker_needs_no_sound_library():
    code = "import sidecue.speaking.loudspeaker, sys; sys.exit('sounddevice' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
