"""The room, made by arithmetic: each noise is float32, mono, 16 kHz, RMS 1."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from benchmarks.listening.voices import RATE, Wave

Maker = Callable[[int, np.random.Generator], Wave]
Shape = Callable[[Wave], npt.NDArray[Any]]


def _shaped(length: int, rng: np.random.Generator, shape: Shape) -> Wave:
    """White noise filtered by `shape(frequencies in Hz) -> gain`."""
    spectrum = np.fft.rfft(rng.standard_normal(length))
    gains = shape(np.fft.rfftfreq(length, 1 / RATE).astype(np.float32))
    return np.fft.irfft(spectrum * gains, length).astype(np.float32)


def _levelled(wave: Wave) -> Wave:
    return np.asarray(wave / max(1e-9, float(np.sqrt(np.mean(wave**2)))), dtype=np.float32)


def pink(length: int, rng: np.random.Generator) -> Wave:
    """Equal power per octave."""
    return _levelled(_shaped(length, rng, lambda f: 1 / np.sqrt(np.maximum(f, 30))))


def dry_suction(length: int, rng: np.random.Generator) -> Wave:
    """Steady broadband rush, fullest around 1-3 kHz, with a slow sway."""
    rush = _shaped(length, rng, lambda f: 1 / (1 + ((f - 1800) / 1500) ** 2))
    sway = 1 + 0.2 * np.sin(2 * np.pi * 0.7 * np.arange(length) / RATE + rng.uniform(0, 6))
    return _levelled(rush * sway.astype(np.float32))


def wet_suction(length: int, rng: np.random.Generator) -> Wave:
    """The rush, broken by gurgles: low-passed bursts at 6-20 a second."""
    rush = dry_suction(length, rng)
    gate = np.zeros(length, dtype=np.float32)
    at = 0
    while at < length:
        burst = int(rng.uniform(0.02, 0.08) * RATE)
        gate[at : at + burst] = np.hanning(burst)[: max(0, length - at)] * rng.uniform(0.5, 2.5)
        at += burst + int(rng.uniform(0.01, 0.09) * RATE)
    gurgle = _levelled(_shaped(length, rng, lambda f: np.exp(-(((f - 500) / 400) ** 2)))) * gate
    return _levelled(0.6 * rush + gurgle)


def whine(length: int, rng: np.random.Generator) -> Wave:
    """High-speed handpiece: gliding tone with harmonics over a hiss, loading under the bur."""
    moments = np.arange(0, length + RATE, RATE // 4)
    pitch = np.interp(
        np.arange(length),
        moments,
        2600 + np.cumsum(rng.normal(0, 130, len(moments))).clip(-900, 900),
    )
    phase = 2 * np.pi * np.cumsum(pitch) / RATE
    tone = sum(np.sin(k * phase) / k for k in (0.5, 1, 2) if k * 3500 < RATE / 2 or k <= 1)
    hiss = _levelled(_shaped(length, rng, lambda f: np.clip(f / 4000, 0.1, 1)))
    return _levelled(np.asarray(tone + 0.5 * hiss, dtype=np.float32))


def clatter(length: int, rng: np.random.Generator) -> Wave:
    """Instruments on a tray: decaying clusters of metal modes, two to five a second."""
    wave = 0.02 * rng.standard_normal(length).astype(np.float32)
    at = 0
    while at < length:
        ring = np.arange(min(int(0.12 * RATE), length - at)) / RATE
        modes = rng.uniform(1200, 7000, 5)
        decay = rng.uniform(25, 90)
        hit = sum(np.sin(2 * np.pi * mode * ring + rng.uniform(0, 6)) for mode in modes)
        wave[at : at + len(ring)] += hit * np.exp(-decay * ring) * rng.uniform(0.3, 1.5)
        at += int(rng.uniform(0.15, 0.6) * RATE)
    return _levelled(wave)


def cough(length: int, rng: np.random.Generator) -> Wave:
    """Coughs and breaths: band noise bursts with a sharp or a slow onset."""
    wave = 0.01 * rng.standard_normal(length).astype(np.float32)
    at = 0
    while at < length:
        sharp = rng.random() < 0.5
        lasts = min(int((0.25 if sharp else 0.9) * RATE), length - at)
        centre, width = (700, 900) if sharp else (1500, 2500)

        def band(f: Wave, centre: float = centre, width: float = width) -> npt.NDArray[Any]:
            return np.asarray(np.exp(-(((f - centre) / width) ** 2)))

        burst = _shaped(max(lasts, 64), rng, band)[:lasts]
        ramp = np.linspace(0, 1, lasts)
        envelope = np.exp(-6 * ramp) if sharp else np.sin(np.pi * ramp) * 0.4
        wave[at : at + lasts] += _levelled(burst) * envelope
        at += lasts + int(rng.uniform(0.2, 1.2) * RATE)
    return _levelled(wave)


def tones(length: int, rng: np.random.Generator) -> Wave:
    """Music-like: chords of three to four notes with harmonics, changing with the beat."""
    wave = 0.005 * rng.standard_normal(length).astype(np.float32)
    beat = int(rng.uniform(0.25, 0.6) * RATE)
    scale = rng.uniform(110, 220) * 2 ** (np.array([0, 2, 4, 5, 7, 9, 11]) / 12)
    for at in range(0, length, beat):
        lasts = min(int(beat * rng.choice([1, 1, 2, 3])), length - at)
        moment = np.arange(lasts) / RATE
        swell = np.minimum(1, moment / 0.02) * np.exp(-moment * rng.uniform(0.5, 4))
        for note in rng.choice(scale, rng.integers(3, 5)) * 2 ** rng.integers(0, 3):
            vibrato = 0.004 * np.sin(2 * np.pi * 5.5 * moment) * rng.integers(0, 2)
            for harmonic in range(1, 6):
                if harmonic * note < RATE / 2:
                    phase = 2 * np.pi * harmonic * note * (moment + vibrato / 5.5)
                    wave[at : at + lasts] += np.sin(phase) * swell / harmonic**1.5
    return _levelled(wave)


MAKERS: dict[str, Maker] = {
    "pink": pink,
    "dry-suction": dry_suction,
    "wet-suction": wet_suction,
    "whine": whine,
    "clatter": clatter,
    "cough": cough,
}


def babble(length: int, rng: np.random.Generator, talk: list[Wave], talkers: int = 6) -> Wave:
    """`talkers` voices reading at once, from `talk` (spoken sentences), each at its own level."""
    wave = np.zeros(length, dtype=np.float32)
    for _ in range(talkers):
        stream: list[Wave] = []
        have = 0
        while have < length + RATE:
            piece = talk[rng.integers(len(talk))]
            stream.append(piece)
            have += len(piece)
        start = rng.integers(0, have - length)
        wave += _levelled(np.concatenate(stream)[start : start + length]) * rng.uniform(0.6, 1.2)
    return _levelled(wave)
