"""Files that are no proper recording: they must be told in one line, or heard all the same."""

from __future__ import annotations

import struct
import wave
from collections.abc import Callable
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

RATE = 16_000
PHRASE = "okay tray what comes next"
CUE = "what-next"
Wave = npt.NDArray[np.float64]


def make(folder: Path, spoken: Callable[[str], Wave]) -> list[dict[str, object]]:
    """Write the files; return their entries of the manifest."""
    folder.mkdir(exist_ok=True)
    for old in folder.iterdir():
        old.unlink()
    speech = _padded(spoken(PHRASE))
    entries: list[dict[str, object]] = []

    def add(name: str, what: str, must: dict[str, str]) -> Path:
        entries.append({"file": f"degenerate/{name}", "what": what, "must": must})
        return folder / name

    def unreadable(name: str, what: str, told: str) -> Path:
        return add(name, what, {"told": told})

    silent = {"refused": "there is nothing to hear"}
    heard = {"cue": CUE}
    unreadable("empty.wav", "no byte at all", "empty").write_bytes(b"")
    unreadable("text.wav", "text with a sound's name", "no sound").write_text("not a sound\n" * 9)
    _wav(unreadable("header-only.wav", "a header and no sample", "no samples"), np.zeros(0), RATE)
    whole = folder / "whole.wav"
    _wav(whole, speech, RATE)
    data = whole.read_bytes()
    whole.unlink()
    unreadable("cut-short.wav", "half of a WAV", "cut short").write_bytes(data[: len(data) // 2])
    unreadable("cut-in-header.wav", "30 bytes of a WAV", "no sound").write_bytes(data[:30])
    flac = unreadable("cut-short.flac", "half of a FLAC", "cut short|no sound|no samples")
    _flac(flac, speech)
    flac.write_bytes(flac.read_bytes()[: flac.stat().st_size // 2])

    _wav(add("zeros.wav", "a second of digital silence", silent), np.zeros(RATE), RATE)
    _wav(add("one-sample.wav", "a single sample", silent), np.full(1, 0.5), RATE)
    _wav(add("direct-current.wav", "a constant level", silent), np.full(RATE, 0.3), RATE)
    square = np.sign(np.sin(2 * np.pi * 60 * np.arange(RATE) / RATE)) * 0.999
    _wav(add("full-scale-square.wav", "mains hum at full scale", silent), square, RATE)

    stereo = np.stack([speech, np.zeros(len(speech))], axis=1)
    _flac(add("stereo.flac", "speech on the left channel only", heard), stereo)
    for rate in (48_000, 44_100, 8_000):
        path = add(f"rate-{rate}.flac", f"the phrase at {rate} Hz", heard)
        _flac(path, soxr.resample(speech, RATE, rate), rate)
    soundfile.write(add("float.wav", "32-bit floating point", heard), speech, RATE, "FLOAT")
    _flac(add("deep.flac", "24 bits a sample", heard), speech, RATE, "PCM_24")
    offset = np.clip(speech + 0.2, -1, 1)
    _flac(add("offset.flac", "the phrase on a constant level", heard), offset)
    loud = np.clip(speech * 30, -0.999, 0.999)
    _flac(add("clipped.flac", "the phrase far too loud", heard), loud)
    _flac(add("faint.flac", "the phrase 12 dB too quiet", heard), speech / 4)
    lost = add("lost.flac", "the phrase 30 dB too quiet, close to the noise of the room", heard)
    _flac(lost, speech / 30)
    streamed = add("streamed.wav", "a WAV whose length was never filled in", heard)
    _wav(streamed, speech, RATE)
    data = bytearray(streamed.read_bytes())
    data[4:8] = data[40:44] = struct.pack("<I", 0xFFFFFFFF)
    streamed.write_bytes(data)
    return entries


def _padded(wave_: Wave) -> Wave:
    quiet = np.random.default_rng(1).standard_normal(len(wave_) + RATE // 4) * 10 ** (-70 / 20)
    quiet[RATE // 8 : RATE // 8 + len(wave_)] += wave_
    return quiet


def _wav(path: Path, samples: Wave, rate: int) -> None:
    with wave.open(str(path), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate)
        file.writeframes(np.clip(samples * 32767, -32768, 32767).astype("<i2").tobytes())


def _flac(path: Path, samples: Wave, rate: int = RATE, subtype: str | None = None) -> None:
    """As small as it gets."""
    soundfile.write(path, samples, rate, subtype, compression_level=1.0)
