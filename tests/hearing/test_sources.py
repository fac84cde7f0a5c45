"""Recordings and silence as sources; damaged recordings."""

from __future__ import annotations

import struct
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import soundfile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from source_contract import SourceContract

from sidecue.hearing.files import FileSource, SilenceSource, read_sound
from sidecue.hearing.port import RATE, AudioError, AudioSource


def tone(rate: int, channels: int = 1, seconds: float = 1.0) -> np.ndarray:
    wave = 0.3 * np.sin(2 * np.pi * 440 * np.arange(round(rate * seconds)) / rate)
    return np.repeat(wave[:, None], channels, axis=1)


class TestFileKeepsTheContract(SourceContract):
    @pytest.fixture(autouse=True)
    def _file(self, tmp_path: Path) -> None:
        self.path = tmp_path / "said.wav"
        soundfile.write(self.path, tone(RATE), RATE)

    def source(self) -> AudioSource:
        return FileSource(self.path)


class TestSilenceKeepsTheContract(SourceContract):
    def source(self) -> AudioSource:
        return SilenceSource(1.0)


@pytest.mark.parametrize("rate", [8000, 11025, 16000, 22050, 44100, 48000, 96000])
@pytest.mark.parametrize("channels", [1, 2, 6])
@pytest.mark.parametrize("kind", ["wav", "flac"])
def test_any_rate_and_channel_count_is_the_same_sound(
    rate: int, channels: int, kind: str, tmp_path: Path
) -> None:
    path = tmp_path / f"tone.{kind}"
    soundfile.write(path, tone(rate, channels), rate)
    samples = read_sound(path)
    assert len(samples) == pytest.approx(RATE, abs=4)
    spectrum = np.abs(np.fft.rfft(samples))
    assert np.argmax(spectrum) == pytest.approx(440, abs=1)
    assert np.abs(samples).max() == pytest.approx(0.3 * 32768, rel=0.05)


def damaged(tmp_path: Path, how: str) -> Path:
    path = tmp_path / f"{how}.wav"
    soundfile.write(path, tone(RATE), RATE, subtype="PCM_16")
    data = path.read_bytes()
    changed: dict[str, Callable[[], bytes]] = {
        "empty": lambda: b"",
        "truncated": lambda: data[: len(data) // 2],
        "header-only": lambda: data[:20],
        "not-sound": lambda: b"this is a letter to the patient" * 40,
        "no-samples": lambda: data[:40] + struct.pack("<I", 0),
        "rate-zero": lambda: data[:24] + struct.pack("<I", 0) + data[28:],
    }
    path.write_bytes(changed[how]())
    return path


@pytest.mark.parametrize(
    ("how", "says"),
    [
        ("empty", "empty"),
        ("truncated", "cut short"),
        ("header-only", "no sound"),
        ("not-sound", "no sound"),
        ("no-samples", "no samples|no sound"),
        ("rate-zero", "rate|no sound"),
    ],
)
def test_a_damaged_recording_is_one_clear_line(how: str, says: str, tmp_path: Path) -> None:
    path = damaged(tmp_path, how)
    with pytest.raises(AudioError, match=says) as caught:
        FileSource(path)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


def test_a_missing_recording_is_one_clear_line(tmp_path: Path) -> None:
    with pytest.raises(AudioError, match="no such file"):
        FileSource(tmp_path / "none.wav")
    with pytest.raises(AudioError, match="no such file"):
        FileSource(tmp_path)


@given(cut=st.integers(0, 3000), junk=st.binary(max_size=16), at=st.integers(0, 60))
@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_damage_gives_anything_but_an_audio_error(
    cut: int, junk: bytes, at: int, tmp_path: Path
) -> None:
    path = tmp_path / "hit.wav"
    soundfile.write(path, tone(RATE, seconds=0.08), RATE, subtype="PCM_16")
    data = bytearray(path.read_bytes())
    data[at : at + len(junk)] = junk
    path.write_bytes(bytes(data[: len(data) - cut]))
    try:
        samples = read_sound(path)
    except AudioError:
        return
    assert samples.dtype == np.int16
