"""Levels: active-speech level in the manner of ITU-T P.56, and mixing at a stated SNR.

SNR here is active-speech RMS over noise RMS, in dB. The active-speech level follows method B of
ITU-T P.56 (constants from memory: envelope smoothed twice with 30 ms, hangover 200 ms, margin
15.9 dB). The noise level is the plain RMS of the whole stretch of noise.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from benchmarks.listening.voices import RATE, Wave

DEFINITION = (
    "SNR is active-speech RMS (in the manner of ITU-T P.56, method B: envelope smoothed twice with"
    " 30 ms, hangover 200 ms, margin 15.9 dB) over the RMS of the whole stretch of noise"
)
SMOOTHED = 0.03  # seconds
HANGOVER = 0.2  # seconds
MARGIN_DB = 15.9
_STEPS = 16  # thresholds, a factor of two apart


def active_level(wave: Wave) -> float:
    """RMS of the active part of `wave` (mono, 16 kHz); 0.0 for silence."""
    total = float(np.sum(np.square(wave, dtype=np.float64)))
    if total == 0.0:
        return 0.0
    envelope = _envelope(wave)
    thresholds = float(np.abs(wave).max()) * 0.5 ** np.arange(_STEPS)  # loud to soft
    before: tuple[float, float] | None = None
    for threshold in thresholds:
        active = _active(envelope, float(threshold))
        if not active:
            continue
        level = 10 * math.log10(total / active)
        over = level - 20 * math.log10(threshold)
        if over >= MARGIN_DB:
            if before is None:
                return float(10 ** (level / 20))
            share = (MARGIN_DB - before[1]) / (over - before[1])
            return float(10 ** ((before[0] + share * (level - before[0])) / 20))
        before = (level, over)
    return float(np.sqrt(total / len(wave)))


def _envelope(wave: Wave) -> npt.NDArray[np.float64]:
    """The rectified wave through two equal one-pole smoothers, as one convolution."""
    decay = math.exp(-1 / (RATE * SMOOTHED))
    taps = np.arange(int(12 * SMOOTHED * RATE))
    kernel = (1 - decay) ** 2 * (taps + 1) * decay**taps
    points = 1 << (len(wave) + len(kernel)).bit_length()
    product = np.fft.rfft(np.abs(wave), points) * np.fft.rfft(kernel, points)
    found: npt.NDArray[np.float64] = np.fft.irfft(product, points)[: len(wave)]
    return found


def _active(envelope: npt.NDArray[np.float64], threshold: float) -> int:
    """How many samples are active: above the threshold, or within the hangover after it."""
    places = np.arange(len(envelope))
    last = np.maximum.accumulate(np.where(envelope >= threshold, places, -(1 << 40)))
    return int(np.count_nonzero(places - last <= HANGOVER * RATE))


def rms(wave: Wave) -> float:
    """Plain RMS; 0.0 for nothing."""
    return float(np.sqrt(np.mean(np.square(wave, dtype=np.float64)))) if len(wave) else 0.0


def noise_gain(speech_level: float, noise: Wave, snr: float) -> float:
    """Return the factor that brings `noise` to `snr` dB below `speech_level` (an RMS)."""
    level = rms(noise)
    return speech_level / 10 ** (snr / 20) / level if level else 0.0


def at_level(wave: Wave, dbfs: float) -> Wave:
    """Return `wave` scaled to an active level of `dbfs` (RMS, full scale 1.0)."""
    level = active_level(wave)
    return np.asarray(wave * (10 ** (dbfs / 20) / level) if level else wave, dtype=np.float32)
