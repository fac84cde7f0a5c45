"""The microphone: choosing by name, and live through PortAudio on a sound server's null sink."""

from __future__ import annotations

import builtins
import os
import shutil
import subprocess
import sys
import textwrap
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import soundfile

from sidecue.hearing.microphone import Device, choose, portaudio
from sidecue.hearing.port import AudioError


def device(name: str, *, monitor: bool = False, default: bool = False) -> Device:
    return Device(name, "ALSA", 1, 48_000, monitor, default)


HEADSET, WEBCAM = device("Headset"), device("Webcam", default=True)
MONITOR = device("Monitor of Speakers", monitor=True, default=True)


def test_the_default_is_taken_when_none_is_named() -> None:
    assert choose((HEADSET, WEBCAM), None) is WEBCAM


def test_a_device_is_found_by_its_name_or_a_part_that_fits_one() -> None:
    assert choose((HEADSET, WEBCAM), "Headset") is HEADSET
    assert choose((HEADSET, WEBCAM), "head") is HEADSET


def test_a_whole_name_wins_over_a_part() -> None:
    assert choose((device("Headset 2"), HEADSET), "Headset") is HEADSET


def test_a_monitor_is_never_taken_silently() -> None:
    """An output monitor picked as input was a fault elsewhere."""
    assert choose((MONITOR, HEADSET), None) is HEADSET
    with pytest.raises(AudioError, match="only monitors"):
        choose((MONITOR,), None)
    assert choose((MONITOR, HEADSET), "monitor of") is MONITOR


@pytest.mark.parametrize(
    ("devices", "name", "says"),
    [
        ((), None, "no microphone"),
        ((HEADSET,), "Boom", "'Boom' is not there; there are: Headset"),
        ((device("Mic A"), device("Mic B")), "Mic", "fits several"),
    ],
)
def test_what_cannot_be_chosen_is_said_in_one_line(
    devices: tuple[Device, ...], name: str | None, says: str
) -> None:
    with pytest.raises(AudioError, match=says) as caught:
        choose(devices, name)
    assert "\n" not in str(caught.value)


def test_a_missing_portaudio_names_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    real = builtins.__import__

    def missing(name: str, *rest: Any) -> Any:
        if name == "sounddevice":
            raise OSError("PortAudio library not found")
        return real(name, *rest)

    monkeypatch.delitem(sys.modules, "sounddevice", raising=False)
    monkeypatch.setattr(builtins, "__import__", missing)
    with pytest.raises(AudioError, match="libportaudio2"):
        portaudio()


@pytest.fixture(scope="module")
def room(tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """A sound server with one loudspeaker that nobody hears; its monitor is the microphone."""
    for program in ("pulseaudio", "pacat"):
        if shutil.which(program) is None:
            pytest.skip(f"needs the program {program}")
    home = tmp_path_factory.mktemp("pulse")
    (home / ".asoundrc").write_text("pcm.!default pulse\nctl.!default pulse\n")
    environment = {
        **os.environ,
        "HOME": str(home),
        "XDG_RUNTIME_DIR": str(home),
        "XDG_CONFIG_HOME": str(home),
        "PULSE_RUNTIME_PATH": str(home),
        "PULSE_SERVER": f"unix:{home}/native",
    }
    command = ["pulseaudio", "-n", "--exit-idle-time=-1", "--daemonize=no", "--use-pid-file=no"]
    command += ["-L", f"module-native-protocol-unix auth-anonymous=1 socket={home}/native"]
    command += ["-L", "module-null-sink sink_name=room"]
    server = subprocess.Popen(command, env=environment, stderr=subprocess.DEVNULL)
    for _ in range(50):
        if (home / "native").exists():
            break
        time.sleep(0.1)
    time.sleep(0.5)
    yield environment
    server.terminate()
    server.wait(timeout=10)


RECORDER = """
    import sys
    import time
    import numpy as np
    from sidecue.hearing.microphone import Microphone, input_devices

    names = [device.name for device in input_devices()]
    microphone = Microphone(name=sys.argv[2])
    print("opened", flush=True)
    kept, empty, began = [], 0, time.monotonic()
    for block in microphone.blocks():
        kept.append(block.samples)
        empty += len(block.samples) == 0
        if time.monotonic() - began > float(sys.argv[3]):
            break
    lost = microphone.lost
    microphone.close()
    np.save(sys.argv[1], np.concatenate(kept))
    print(empty, lost, flush=True)
"""


@pytest.mark.xdist_group("pulse")
def test_what_is_played_into_the_room_is_what_arrives(room: dict[str, str], tmp_path: Path) -> None:
    """Through PortAudio itself: 44.1 kHz stereo in, 16 kHz mono out."""
    tone = 0.3 * np.sin(2 * np.pi * 500 * np.arange(3 * 44_100) / 44_100)
    soundfile.write(tmp_path / "tone.wav", np.repeat(tone[:, None], 2, axis=1), 44_100)
    kept = tmp_path / "kept.npy"
    recorder = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(RECORDER), str(kept), "pulse", "2.5"],
        env=room,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert recorder.stdout is not None
    assert recorder.stderr is not None
    if recorder.stdout.readline().strip() != "opened":
        problem = recorder.stderr.read()
        recorder.wait()
        if "there are" in problem:
            pytest.skip("needs the ALSA plugin for PulseAudio (libasound2-plugins)")
        pytest.fail(problem)
    player = subprocess.Popen(
        ["pacat", "--playback", "--file-format=wav", str(tmp_path / "tone.wav")], env=room
    )
    recorder.communicate(timeout=30)
    player.kill()
    player.wait()
    samples = np.load(kept)
    assert samples.dtype == np.int16
    loud = samples[len(samples) // 2 : len(samples) // 2 + 8000].astype(float)
    spectrum = np.abs(np.fft.rfft(loud * np.hanning(len(loud))))
    assert np.argmax(spectrum) * 16_000 / len(loud) == pytest.approx(500, abs=4)


@pytest.mark.xdist_group("pulse")
def test_a_device_that_falls_silent_for_good_is_noticed(
    tmp_path_factory: pytest.TempPathFactory, room: dict[str, str], tmp_path: Path
) -> None:
    """The sound is suspended under the recorder: empty blocks come, and it counts as lost."""
    kept = tmp_path / "kept.npy"
    recorder = subprocess.Popen(
        [sys.executable, "-c", textwrap.dedent(RECORDER), str(kept), "pulse", "4"],
        env=room,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert recorder.stdout is not None
    if recorder.stdout.readline().strip() != "opened":
        recorder.kill()
        recorder.wait()
        pytest.skip("needs the ALSA plugin for PulseAudio (libasound2-plugins)")
    suspend = ["pactl", "suspend-sink", "room"]
    subprocess.run([*suspend, "1"], env=room, check=True, timeout=10)
    said, trouble = recorder.communicate(timeout=30)
    subprocess.run([*suspend, "0"], env=room, check=True, timeout=10)
    empty, lost = said.split()
    assert int(empty) >= 4, trouble
    assert lost == "True"
