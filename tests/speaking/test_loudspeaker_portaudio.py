"""The real output: PortAudio into a PulseAudio null sink, heard again on its monitor."""

import ctypes.util
import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import pytest
from loudspeaker_contract import LoudspeakerContract, tone

from sidecue.speaking.loudspeaker import PortAudioLoudspeaker, explain, output_devices
from sidecue.speaking.port import VoiceError

pytestmark = pytest.mark.xdist_group("pulseaudio-output")

RATE = 44_100


def missing():
    """Return the system program or library that is not here, if any."""
    for program in ("pulseaudio", "pactl", "parec"):
        if shutil.which(program) is None:
            return f"{program} (packages pulseaudio, pulseaudio-utils)"
    if ctypes.util.find_library("portaudio") is None:
        return "PortAudio (package libportaudio2)"
    if not any(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        return "ALSA's PulseAudio plugin (package libasound2-plugins)"
    return ""


needs_sound_server = pytest.mark.skipif(bool(missing()), reason=f"missing: {missing()}")


class Room:
    """A sound server of our own with one null sink, and a way to hear what is in it."""

    def __init__(self, folder):
        self.folder = folder
        self.process = None
        self.ear = None

    def start(self):
        self.process = subprocess.Popen(
            [
                "pulseaudio", "-n", "--exit-idle-time=-1", "--daemonize=no",
                "-L", "module-native-protocol-unix auth-anonymous=1",
                "-L", "module-null-sink sink_name=room",
                "-L", "module-always-sink",
            ],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        end = time.monotonic() + 10
        while subprocess.run(["pactl", "info"], check=False, capture_output=True).returncode:
            assert time.monotonic() < end, "the sound server did not start"
            time.sleep(0.05)
        # A null sink with nobody listening takes sound two seconds at a time.
        self.ear = Listener(self.folder / "ear.raw")

    def stop(self):
        if self.process is not None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(timeout=10)
            self.process = None
            self.ear.close()

    def listen(self):
        return Listener(self.folder / "heard.raw")


class Listener:
    """Records the sink's monitor."""

    def __init__(self, path):
        self.path = path
        self.file = path.open("wb")
        self.process = subprocess.Popen(
            ["parec", "-d", "room.monitor", f"--rate={RATE}", "--channels=1", "--format=s16le",
             "--latency-msec=5"], stdout=self.file, stderr=subprocess.DEVNULL,
        )  # fmt: skip
        end = time.monotonic() + 10
        while not path.stat().st_size:
            assert time.monotonic() < end, "nothing arrives from the monitor"
            time.sleep(0.02)

    def close(self):
        self.process.terminate()
        self.process.wait(timeout=5)
        self.file.close()

    def heard(self):
        """Stop; return (start, end) in seconds of every stretch of sound."""
        time.sleep(0.3)
        self.close()
        samples = np.fromfile(self.path, np.int16).astype(int)
        loud = np.flatnonzero(np.abs(samples) > 100)
        if not len(loud):
            return []
        groups = np.split(loud, np.flatnonzero(np.diff(loud) > 0.05 * RATE) + 1)
        return [(g[0] / RATE, g[-1] / RATE) for g in groups]


class WallClock:
    """Real time."""

    @property
    def now(self):
        # read twice inside one assertion it must be the same moment
        return self._now

    def __init__(self):
        self._now = time.monotonic()

    def wait(self, seconds):
        time.sleep(max(0.0, seconds))
        self._now = time.monotonic()


@pytest.fixture(scope="module")
def room(tmp_path_factory):
    folder = tmp_path_factory.mktemp("pulse")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("XDG_RUNTIME_DIR", str(folder))
        patch.setenv("PULSE_RUNTIME_PATH", str(folder / "pulse"))
        patch.setenv("HOME", str(folder))
        patch.delenv("PULSE_SERVER", raising=False)
        made = Room(folder)
        made.start()
        yield made
        made.stop()


@pytest.fixture
def clock():
    return WallClock()


@pytest.fixture
def speaker(room):
    made = PortAudioLoudspeaker("room")
    yield made
    made.close()


@needs_sound_server
class TestPortAudioLoudspeaker(LoudspeakerContract):
    @pytest.fixture
    def speaker(self, speaker, clock):
        clock.wait(0)
        return speaker


@needs_sound_server
def test_what_is_played_is_heard_whole_and_ends_when_it_said(room, speaker):
    listener = room.listen()
    speaker.play(tone(0.5), 0.0)
    time.sleep(1.0)
    speaker.play(tone(0.3, 16_000), 0.0)
    speaker.play(tone(0.3, 48_000), 0.0)
    time.sleep(0.8)
    first, second = listener.heard()
    assert first[1] - first[0] == pytest.approx(0.5, abs=0.02)
    assert second[1] - second[0] == pytest.approx(0.6, abs=0.02)
    assert second[0] - first[0] == pytest.approx(1.0, abs=0.1)


@needs_sound_server
def test_silence_is_heard_within_fifty_milliseconds(room, speaker):
    listener = room.listen()
    begun = time.monotonic()
    speaker.play(tone(3.0), 0.0)
    time.sleep(0.5)
    asked = time.monotonic() - begun
    speaker.silence(asked)
    time.sleep(0.3)
    ((start, end),) = listener.heard()
    # `end - start` leaves out the latency that start and end share: the device's own
    assert end - start - asked + speaker.latency < 0.05


@needs_sound_server
def test_words_after_silence_do_not_bring_back_what_was_cut(room, speaker):
    listener = room.listen()
    speaker.play(tone(3.0), 0.0)
    time.sleep(0.4)
    speaker.silence(0.4)
    speaker.play(tone(0.3), 0.4)
    time.sleep(0.8)
    stretches = listener.heard()
    assert sum(end - start for start, end in stretches) == pytest.approx(0.7, abs=0.06)


@needs_sound_server
def test_an_output_is_chosen_by_name_and_an_unknown_one_lists_those_there(room):
    assert "room" in [device.name for device in output_devices()]
    with pytest.raises(VoiceError, match=r"'gramophone' is not there; there are: .*room.*--mute"):
        PortAudioLoudspeaker("gramophone")


@needs_sound_server
def test_a_vanished_device_is_told_within_two_seconds_and_used_again_on_return(room):
    told = []
    speaker = PortAudioLoudspeaker(
        "room", on_lost=lambda: told.append("lost"), on_back=lambda: told.append("back")
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
        listener = room.listen()
        speaker.play(tone(0.5), 0.0)
        time.sleep(0.8)
        ((start, end),) = listener.heard()
        assert end - start == pytest.approx(0.5, abs=0.02)
    finally:
        speaker.close()


@needs_sound_server
def test_a_hanging_sound_library_is_left_behind(room):
    told = []
    speaker = PortAudioLoudspeaker(
        "room", on_lost=lambda: told.append("lost"), on_back=lambda: told.append("back")
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
    speaker = PortAudioLoudspeaker("room", on_back=lambda: told.append("back"))
    try:
        for count in range(1, 11):
            os.kill(speaker._child.pid, signal.SIGKILL)
            wait_for(lambda count=count: len(told) == count, 6.0)
        listener = room.listen()
        speaker.play(tone(0.5), 0.0)
        time.sleep(0.8)
        assert len(listener.heard()) == 1
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


def wait_for(condition, seconds):
    """Wait until `condition()` holds; fail when it does not within `seconds`."""
    end = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < end, f"not within {seconds} s"
        time.sleep(0.02)
