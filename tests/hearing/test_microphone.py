"""The microphone: choosing by name, any format, and what its child may do wrong."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path

import numpy as np
import pytest
from benchmarks.edges.patience import FairTimer

from sidecue.devices.child import Child
from sidecue.devices.frames import Kind
from sidecue.devices.naming import Device
from sidecue.devices.serving import Request
from sidecue.devices.soundserver import HOST
from sidecue.hearing import microphone
from sidecue.hearing.microphone import Microphone, choose
from sidecue.hearing.port import RATE, AudioError, Block
from sidecue.hearing.ratewatch import RateWatch

pytestmark = pytest.mark.xdist_group("sound")  # in real time, though the devices are feigned


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


def test_a_missing_portaudio_names_what_to_install(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    (tmp_path / "sounddevice.py").write_text("raise OSError('PortAudio library not found')\n")
    monkeypatch.setenv("PYTHONPATH", str(tmp_path))
    with pytest.raises(AudioError, match="libportaudio2"):
        Microphone()


@pytest.fixture
def faked(monkeypatch: pytest.MonkeyPatch) -> Callable[..., Microphone]:
    """A microphone whose recording child is `fake_input_child`."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent))
    monkeypatch.setattr(microphone, "input_devices", lambda: (WEBCAM,))

    def made(how: str, told: list[str], child: str = "fake_input_child") -> Microphone:
        monkeypatch.setenv("FAKE_INPUT", how)
        return Microphone(None, tell=told.append, child_module=child)

    return made


def listen(source: Microphone, until: Callable[[list[Block]], bool]) -> list[Block]:
    """Read on until that can be said of all blocks so far; half a minute at most."""
    kept, end = list[Block](), time.monotonic() + 30.0
    for block in source.blocks():
        kept.append(block)
        if until(kept):
            return kept
        assert time.monotonic() < end
    return kept


def delivered(blocks: list[Block]) -> int:
    return sum(len(block.samples) for block in blocks)


@pytest.mark.parametrize("channels", [1, 2, 8])
@pytest.mark.parametrize("rate", [8_000, 44_100, 96_000])
def test_any_rate_and_channel_count_of_the_device_is_the_same_sound(
    faked: Callable[..., Microphone], rate: int, channels: int
) -> None:
    """One of eight inputs carries the voice: it must not come out eight times fainter."""
    with closing(faked(f"{rate} {channels} 1.0", [])) as source:
        blocks = listen(source, lambda kept: delivered(kept) > 6000)
    samples = np.concatenate([block.samples for block in blocks])[-4000:]
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    assert np.argmax(spectrum) * RATE / len(samples) == pytest.approx(500, abs=5)
    assert np.abs(samples.astype(int)).max() == pytest.approx(8000, rel=0.06)


def test_a_wrongly_labelled_rate_is_told_once_within_ten_seconds_and_mended() -> None:
    """By the clock: a device that says 16 kHz and delivers 48,000 samples a second."""
    for says, real in ((16_000, 48_000), (48_000, 44_100), (44_100, 48_000), (16_000, 8_000)):
        watch, at, found = RateWatch(says), 0.0, None
        jitter = np.random.default_rng(1)
        while found is None and at < 10:
            at += 0.05
            found = watch.take(at + jitter.uniform(0, 0.01), round(real * 0.05))
        assert found == real
        assert at < 10


def test_a_right_rate_is_never_doubted_through_pauses_bursts_and_drift() -> None:
    watch, at, draw = RateWatch(16_000), 0.0, np.random.default_rng(2)
    for number in range(40_000):
        at += 0.05 * 1.0002
        if number % 997 == 0:
            at += 3.0  # the device slept
        assert watch.take(at + draw.uniform(0, 0.03), 800) is None


def test_a_busy_machine_is_no_other_rate() -> None:
    """It delivers late for seconds: 15,300 a second is nearest to the 16,000 that it says."""
    watch = RateWatch(16_000)
    assert {watch.take(0.05 * number, round(15_300 * 0.05)) for number in range(1000)} == {None}


def test_a_microphone_that_delivers_at_another_rate_is_told(
    faked: Callable[..., Microphone],
) -> None:
    told: list[str] = []
    with closing(faked("16000 1 3.0", told)) as source:
        listen(source, lambda _: bool(told))
        blocks = listen(source, lambda kept: delivered(kept) > 32_000)
    assert len(told) == 1
    assert "says 16000 Hz and delivers 48000" in told[0]
    samples = np.concatenate([block.samples for block in blocks])[-4000:]
    spectrum = np.abs(np.fft.rfft(samples * np.hanning(len(samples))))
    assert np.argmax(spectrum) * RATE / len(samples) == pytest.approx(1500, abs=10)


def test_a_child_that_hangs_is_left_behind_and_another_asked(
    faked: Callable[..., Microphone],
) -> None:
    with closing(faked("16000 1 1.0", [])) as source:
        listen(source, lambda kept: delivered(kept) > 4000)
        child = source._child
        assert child is not None
        os.kill(child.pid, signal.SIGSTOP)
        stopped, timer = time.monotonic(), FairTimer()
        hung = listen(source, lambda _: timer.read() > 0 and source._child is not child)
        assert time.monotonic() - stopped > 0.9, "a second's patience"
        assert timer.read() < 3.0
        assert not len(hung[-1].samples)
        listen(source, lambda kept: len(kept[-1].samples) > 0 and not source.lost)


def test_a_returned_device_that_opens_slowly_is_waited_for(
    faked: Callable[..., Microphone],
) -> None:
    """On a busy machine opening takes longer than a second; giving up would never end."""
    with closing(faked("", [], "late_input_child")) as source:
        listen(source, lambda kept: delivered(kept) > 1600)
        first = source._child
        assert first is not None
        first.kill()
        listen(source, lambda _: source.lost)
        second = source._child
        listen(source, lambda kept: len(kept[-1].samples) > 0 and not source.lost)
        assert source._child is second, "it was given up in between"


@pytest.mark.parametrize("wait", [False, True])
def test_a_sound_server_that_dies_in_the_middle_of_an_answer_is_given_up(
    wait: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its client waits for ever then, while another thread goes on beating."""
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent))
    with closing_child(Child("hung_server_child", Request("mic", HOST, wait).argument())) as child:
        frame, end = child.receive(20.0), time.monotonic() + 20.0
        while frame is not None and frame[0] is not Kind.FAULT:
            assert time.monotonic() < end
            frame = child.receive(20.0)
        assert frame == (Kind.FAULT, b"the sound server hangs")


@contextmanager
def closing_child(child: Child) -> Iterator[Child]:
    try:
        yield child
    finally:
        child.kill()


def test_digital_silence_counts_as_nothing(faked: Callable[..., Microphone]) -> None:
    with closing(faked("16000 1 1.0 0.5", [])) as source:  # sounds for half a second
        blocks = listen(source, lambda _: source.lost)
    assert not len(blocks[-1].samples)
    sounding = np.concatenate([block.samples for block in blocks])
    assert np.count_nonzero(sounding) == pytest.approx(RATE / 2, rel=0.1)
    assert len(sounding) < 1.5 * RATE, "half a second of silence may end a word, not more"


def test_importing_the_microphone_needs_no_sound_library() -> None:
    code = "import sidecue.hearing.microphone, sys; sys.exit('sounddevice' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
