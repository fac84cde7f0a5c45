"""A small surgery's echo, simulated: impulse responses from a talker to the microphone.

The image-source method of pyroomacoustics. Rooms are boxes of a surgery's size with a stated
reverberation time; the microphone stands off the mouth as a headset (5 cm), a lapel (25 cm) or a
stand (80 cm) does. Speech keeps its level: the SNR is set after the echo.
"""

from __future__ import annotations

import importlib.util
from dataclasses import dataclass
from functools import cache

import numpy as np

from benchmarks.listening.voices import RATE, Wave

DISTANCES = (0.05, 0.25, 0.8)  # metres from mouth to microphone
REVERBERATION = (0.25, 0.5)  # seconds (RT60), drawn between


def can_echo() -> bool:
    """True when the room simulator is installed."""
    return importlib.util.find_spec("pyroomacoustics") is not None


@dataclass(frozen=True)
class Echo:
    """One talker's place in one room."""

    distance: float  # metres
    seed: int

    @property
    def name(self) -> str:
        """For tables."""
        return f"echo, {round(100 * self.distance)} cm"


@cache
def response(echo: Echo) -> Wave:
    """The impulse response, its direct sound first, peak 1."""
    import pyroomacoustics

    rng = np.random.default_rng([echo.seed, round(1000 * echo.distance)])
    size = np.array([rng.uniform(2.8, 4.0), rng.uniform(3.2, 5.0), rng.uniform(2.4, 2.9)])
    absorption, order = pyroomacoustics.inverse_sabine(rng.uniform(*REVERBERATION), size)
    room = pyroomacoustics.ShoeBox(
        size,
        fs=RATE,
        materials=pyroomacoustics.Material(absorption),
        max_order=min(order, 17),
    )
    mouth = np.array([rng.uniform(1.2, s - 1.2) for s in size[:2]] + [rng.uniform(1.1, 1.4)])
    angle = rng.uniform(0, 2 * np.pi)
    away = echo.distance * np.array([np.cos(angle), np.sin(angle), -0.2])
    room.add_source(mouth)
    room.add_microphone(mouth + away)
    room.compute_rir()
    wave = np.asarray(room.rir[0][0], dtype=np.float32)
    wave = wave[max(0, int(np.argmax(np.abs(wave))) - 16) :]
    return np.asarray(wave / np.abs(wave).max(), dtype=np.float32)


def heard_through(wave: Wave, echo: Echo | None) -> Wave:
    """Return `wave` as the microphone hears it; longer by the echo's tail."""
    if echo is None:
        return wave
    kernel = response(echo)
    points = 1 << (len(wave) + len(kernel)).bit_length()
    product = np.fft.rfft(wave, points) * np.fft.rfft(kernel, points)
    return np.fft.irfft(product, points)[: len(wave) + len(kernel) - 1].astype(np.float32)
