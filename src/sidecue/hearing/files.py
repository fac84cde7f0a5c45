"""Audio sources that need no device: a recording, and silence."""

from __future__ import annotations

import struct
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from sidecue.hearing.conditioning import to_mono_16k
from sidecue.hearing.port import RATE, AudioError, Block, Samples

BLOCK = RATE // 20  # 50 ms
_UNKNOWN_SIZES = (0, 0xFFFFFFFF, 0x7FFFFFFF, 0x7FFFF000)  # written by programs that stream


class FileSource:
    """A WAV or FLAC recording of any rate and channel count; its samples are the clock."""

    def __init__(self, path: Path) -> None:
        """Read the recording. Raises AudioError in one line when it is no usable sound."""
        self._samples = read_sound(path)

    @property
    def lasts(self) -> float:
        """Length in seconds."""
        return len(self._samples) / RATE

    def blocks(self) -> Iterator[Block]:
        """Yield the recording in blocks of 50 ms, as fast as they are taken."""
        for at in range(0, len(self._samples), BLOCK):
            yield Block(at / RATE, self._samples[at : at + BLOCK])

    def close(self) -> None:
        """Let go of the samples."""
        self._samples = np.zeros(0, dtype=np.int16)


class SilenceSource:
    """Digital silence of a known length."""

    def __init__(self, lasts: float) -> None:
        self._blocks = round(lasts * RATE / BLOCK)

    def blocks(self) -> Iterator[Block]:
        """Yield silence."""
        for number in range(self._blocks):
            yield Block(number * BLOCK / RATE, np.zeros(BLOCK, dtype=np.int16))

    def close(self) -> None:
        """Nothing more comes."""
        self._blocks = 0


def read_sound(path: Path) -> Samples:
    """Read a recording as mono 16 kHz int16.

    Raises AudioError naming the file when it is missing, empty, cut short or no sound.
    """
    import soundfile

    if not path.is_file():
        raise AudioError(f"{path}: no such file; give a WAV or FLAC recording")
    if path.stat().st_size == 0:
        raise AudioError(f"{path}: the file is empty; record or copy it again")
    if (missing := _bytes_missing(path)) > 0:
        raise AudioError(f"{path}: cut short, {missing} bytes are missing; copy it again")
    try:
        wave, rate = soundfile.read(path, dtype="float32", always_2d=True)
    except (soundfile.SoundFileError, OSError, ValueError, TypeError) as fault:
        reason = str(fault).strip().rstrip(".") or type(fault).__name__
        raise AudioError(
            f"{path}: no sound that can be read ({reason}); use WAV or FLAC"
        ) from fault
    if len(wave) == 0:
        raise AudioError(f"{path}: holds no samples; record it again")
    try:
        return to_mono_16k(wave, int(rate))
    except ValueError as fault:
        raise AudioError(f"{path}: {fault}; record it again at 16 or 48 kHz") from fault


def _bytes_missing(path: Path) -> int:
    """How many bytes the header of a RIFF WAV promises beyond the file's end; else 0."""
    size = path.stat().st_size
    with path.open("rb") as file:
        head = file.read(12)
        if len(head) < 12 or head[:4] != b"RIFF" or head[8:] != b"WAVE":
            return 0
        while len(chunk := file.read(8)) == 8:
            name, length = struct.unpack("<4sI", chunk)
            if name == b"data":
                return 0 if length in _UNKNOWN_SIZES else max(0, file.tell() + length - size)
            file.seek(length + length % 2, 1)
    return 0
