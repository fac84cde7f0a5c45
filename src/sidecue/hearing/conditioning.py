"""Make any sound fit to recognise: rate, channels, noise floor, level, and the denoise mix.

Inside, audio is mono, 16 kHz, int16. Levels are in dB relative to a full-scale sine's peak
amplitude squared (dBFS of RMS: a constant at full scale is 0 dBFS).
"""

from __future__ import annotations

import ctypes
import importlib.util
import platform
import weakref
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soxr

from sidecue.hearing.port import RATE, Samples

FLOOR_DBFS = -70.0  # digital silence starves the decoder's cepstral mean: never feed it
FRAME = RATE // 100  # 10 ms
_FULL = 32768.0
DENOISE_RATE = 48_000
DENOISE_FRAME = 480
DENOISE_DELAY = 2 * DENOISE_FRAME  # measured by correlating input with output
CLIPPED_AT = 32_600

Floats = npt.NDArray[np.float32]


def to_mono_16k(wave: npt.NDArray[np.generic], rate: int) -> Samples:
    """Return `wave` as the inside format.

    `wave` is int16, int32 or float (full scale 1.0), shaped (frames,) or (frames, channels);
    channels are averaged. Raises ValueError for an impossible rate or shape.
    """
    if not 4_000 <= rate <= 384_000:
        raise ValueError(f"sample rate {rate} Hz is outside 4 to 384 kHz")
    if wave.ndim not in (1, 2):
        raise ValueError(f"audio has {wave.ndim} dimensions, not frames x channels")
    mono = _mono(wave)
    return as_int16(mono if rate == RATE else np.asarray(soxr.resample(mono, rate, RATE)))


def as_int16(wave: Floats) -> Samples:
    """Round a float wave (full scale 1.0) to int16, limited rather than wrapped."""
    limited: Floats = np.clip(np.rint(wave * _FULL), -_FULL, _FULL - 1)
    return limited.astype(np.int16)


def _mono(wave: npt.NDArray[np.generic]) -> Floats:
    if wave.dtype == np.int16:
        floats = wave.astype(np.float32) / _FULL
    elif wave.dtype == np.int32:
        floats = wave.astype(np.float32) / 2147483648.0
    else:
        floats = np.nan_to_num(wave.astype(np.float32), nan=0.0, posinf=1.0, neginf=-1.0)
    return floats.mean(axis=1, dtype=np.float32) if floats.ndim == 2 else floats


class StreamConverter:
    """Blocks of a live stream to the inside format, without seams between blocks."""

    def __init__(self, rate: int, channels: int) -> None:
        if not 4_000 <= rate <= 384_000:
            raise ValueError(f"sample rate {rate} Hz is outside 4 to 384 kHz")
        self.rate = rate
        self.channels = channels
        self._sounding = np.zeros(channels, dtype=bool)
        self._resampler = (
            None if rate == RATE else soxr.ResampleStream(rate, RATE, 1, dtype="float32")
        )

    def convert(self, interleaved: npt.NDArray[np.generic]) -> Samples:
        """Return the samples of one block (int16, int32 or float, interleaved channels).

        Channels that never carried anything are left out of the mean: the seven unused inputs of
        an interface must not make the eighth faint.
        """
        usable = len(interleaved) - len(interleaved) % self.channels
        wave = interleaved[:usable].reshape(-1, self.channels)
        self._sounding |= wave.any(axis=0)
        if self._sounding.any() and not self._sounding.all():
            wave = wave[:, self._sounding]
        mono = _mono(wave)
        return as_int16(mono if self._resampler is None else self._resampler.resample_chunk(mono))


@cache
def _floor_noise() -> npt.NDArray[np.int16]:
    spread = 10 ** (FLOOR_DBFS / 20) * _FULL
    return np.rint(np.random.default_rng(7).normal(0, spread, 30 * RATE)).astype(np.int16)


def with_floor(samples: Samples) -> Samples:
    """Add the noise floor. The same samples always give the same result."""
    noise = np.resize(_floor_noise(), len(samples))
    return as_int16((samples.astype(np.float32) + noise) / _FULL)


def dbfs(samples: Samples | Floats) -> float:
    """RMS level of int16-scaled samples in dBFS; -120 for silence or nothing."""
    if len(samples) == 0:
        return -120.0
    power = float(np.mean(np.square(samples.astype(np.float64) / _FULL)))
    return max(-120.0, 10 * float(np.log10(power + 1e-12)))


def frame_levels(samples: Samples) -> npt.NDArray[np.float64]:
    """Level of each whole 10 ms frame, dBFS."""
    whole = samples[: len(samples) // FRAME * FRAME].reshape(-1, FRAME).astype(np.float64)
    power: npt.NDArray[np.float64] = np.mean(np.square(whole / _FULL), axis=1)
    return 10 * np.log10(power + 1e-12)


@dataclass(frozen=True, slots=True)
class Level:
    """How loud a stretch of sound is. `snr` is the span between its loud and quiet frames."""

    speech: float  # 90th percentile of the frame levels, dBFS
    noise: float  # 10th percentile, dBFS
    clipped: float  # share of samples at full scale

    @property
    def snr(self) -> float:
        """Loud over quiet frames, dB. A stand-in for signal-to-noise ratio."""
        return self.speech - self.noise

    @property
    def complaint(self) -> str:
        """What is wrong with the level, or empty."""
        if self.clipped > 0.01:
            return "too loud: the microphone is clipping; turn its level down"
        if self.speech < -55:
            return "too quiet: turn the microphone's level up or bring it nearer"
        return ""


def level_of(samples: Samples) -> Level:
    """Measure a stretch of sound."""
    levels = frame_levels(samples)
    if len(levels) == 0:
        return Level(-120.0, -120.0, 0.0)
    quiet, loud = np.percentile(levels, (10, 90))
    clipped = float(np.mean(np.abs(samples.astype(np.int32)) >= CLIPPED_AT))
    return Level(float(loud), float(quiet), clipped)


@cache
def _rnnoise() -> ctypes.CDLL | None:
    """The RNNoise library inside the wheel `pyrnnoise`, loaded without that package's imports."""
    spec = importlib.util.find_spec("pyrnnoise")
    if spec is None or not spec.submodule_search_locations:
        return None
    name = {"Darwin": "librnnoise.dylib", "Windows": "rnnoise.dll"}.get(
        platform.system(), "librnnoise.so"
    )
    try:
        library = ctypes.CDLL(str(Path(spec.submodule_search_locations[0]) / name))
    except OSError:
        return None
    library.rnnoise_create.restype = ctypes.c_void_p
    library.rnnoise_create.argtypes = [ctypes.c_void_p]
    library.rnnoise_destroy.argtypes = [ctypes.c_void_p]
    library.rnnoise_process_frame.restype = ctypes.c_float
    library.rnnoise_process_frame.argtypes = [ctypes.c_void_p] * 3
    return library


def can_denoise() -> bool:
    """True when RNNoise is usable on this machine."""
    return _rnnoise() is not None


class NoiseRemover:
    """RNNoise with its memory of one stream."""

    def __init__(self) -> None:
        self._library = _rnnoise()
        self._state: int | None = None

    def through(self, wave: Floats) -> Floats:
        """Return whole frames of a stream (48 kHz, int16 scale, DENOISE_FRAME each), cleaned and
        late by DENOISE_DELAY samples; as they are where RNNoise is missing."""
        found = np.array(wave, dtype=np.float32)
        if self._library is None:
            return found
        if self._state is None:
            self._state = self._library.rnnoise_create(None)
            weakref.finalize(self, self._library.rnnoise_destroy, self._state)
        for at in range(0, len(found), DENOISE_FRAME):
            place = found.ctypes.data + 4 * at
            self._library.rnnoise_process_frame(self._state, place, place)
        return found


def denoise(samples: Samples) -> Samples:
    """Return `samples` through RNNoise, same length and aligned; unchanged where it is missing."""
    if not can_denoise() or len(samples) == 0:
        return samples
    wave = soxr.resample(samples.astype(np.float32), RATE, DENOISE_RATE)
    padded = np.zeros((len(wave) // DENOISE_FRAME + 3) * DENOISE_FRAME, dtype=np.float32)
    padded[: len(wave)] = wave
    through = NoiseRemover().through(padded)
    cleaned: Floats = soxr.resample(through[DENOISE_DELAY:], DENOISE_RATE, RATE)
    return as_int16(cleaned[: len(samples)] / _FULL)


def mix(original: Samples, cleaned: Samples, share: float) -> Samples:
    """`share` of the denoised sound over the rest of the original, with the noise floor."""
    blend = share * cleaned.astype(np.float32) + (1 - share) * original.astype(np.float32)
    return with_floor(np.rint(blend).astype(np.int16))
