"""Noises of an operatory that are no speech, each from a random generator."""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np
import numpy.typing as npt

RATE = 16_000
Wave = npt.NDArray[np.float64]
Draw = np.random.Generator


def _shaped(draw: Draw, lasts: float, gain: Callable[[Wave], Wave]) -> Wave:
    """Noise whose spectrum is `gain` of the frequency in Hz, RMS one."""
    size = round(lasts * RATE)
    spectrum = np.fft.rfft(draw.standard_normal(size))
    spectrum *= gain(np.fft.rfftfreq(size, 1 / RATE))
    wave = np.fft.irfft(spectrum, size)
    return np.asarray(wave / np.sqrt(np.mean(wave**2)))


def _band(low: float, high: float) -> Callable[[Wave], Wave]:
    return lambda f: 1 / (1 + (low / np.maximum(f, 1)) ** 4) / (1 + (f / high) ** 4)


def _at(wave: Wave, dbfs: float) -> Wave:
    return wave * 10 ** (dbfs / 20)


def pink(draw: Draw) -> Wave:
    """A room's rumble: equal power in every octave."""
    wave = _shaped(draw, draw.uniform(0.8, 1.4), lambda f: 1 / np.sqrt(np.maximum(f, 20)))
    return _at(wave, draw.uniform(-45, -32))


def suction(draw: Draw) -> Wave:
    """A suction tip: a broad hiss, and the gurgle when it meets water."""
    lasts = draw.uniform(0.9, 1.4)
    hiss = _shaped(draw, lasts, _band(600, 5000))
    time = np.arange(len(hiss)) / RATE
    slow = _shaped(draw, lasts, _band(4, 25))[: len(hiss)]
    gurgle = _shaped(draw, lasts, _band(150, 900)) * np.maximum(0, slow) ** 2
    swell = 1 + 0.4 * np.sin(2 * np.pi * draw.uniform(1, 3) * time)
    return _at((hiss + draw.uniform(0, 1.2) * gurgle) * swell, draw.uniform(-42, -32))


def handpiece(draw: Draw) -> Wave:
    """A turbine's whine, its speed falling under load, over air hiss."""
    time = np.arange(round(draw.uniform(0.9, 1.4) * RATE)) / RATE
    load = 1 - 0.15 * np.sin(np.pi * np.minimum(1, time * draw.uniform(0.8, 2)))
    turn = 2 * np.pi * np.cumsum(draw.uniform(3800, 6000) * load) / RATE
    whine = np.sin(turn) + 0.3 * np.sin(turn / 2) + 0.15 * np.sin(turn / 3)
    hiss = _shaped(draw, len(time) / RATE, _band(1500, 7000))[: len(time)]
    return _at(whine + 0.5 * hiss, draw.uniform(-42, -32))


def clatter(draw: Draw) -> Wave:
    """Steel on a steel tray: struck resonances, some bouncing."""
    wave = np.zeros(round(draw.uniform(0.7, 1.2) * RATE))
    for _ in range(draw.integers(2, 6)):
        start = draw.integers(0, len(wave) * 3 // 4)
        time = np.arange(len(wave) - start) / RATE
        for _ in range(5):
            decay = np.exp(-time / draw.uniform(0.01, 0.09))
            wave[start:] += (
                draw.uniform(0.1, 1) * decay * np.sin(2 * np.pi * draw.uniform(1200, 7200) * time)
            )
    return wave / np.abs(wave).max() * draw.uniform(0.1, 0.4)


def cough(draw: Draw) -> Wave:
    """A burst of air through a throat, then a voiced tail; once or twice."""
    parts = []
    for _ in range(draw.integers(1, 3)):
        burst = _shaped(draw, draw.uniform(0.06, 0.12), _band(400, 3500))
        tail = _shaped(draw, draw.uniform(0.15, 0.3), _band(250, 1600))
        time = np.arange(len(tail)) / RATE
        buzz = 1 + 0.8 * np.sign(np.sin(2 * np.pi * draw.uniform(90, 220) * time))
        tail = 0.5 * tail * buzz * np.exp(-time / 0.09)
        parts += [burst * np.hanning(len(burst)) ** 0.3, tail, np.zeros(round(0.12 * RATE))]
    return _at(np.concatenate(parts), draw.uniform(-26, -18))


def breath(draw: Draw) -> Wave:
    """A sigh close to the microphone."""
    wave = _shaped(draw, draw.uniform(0.6, 1.2), _band(300, 2500))
    return _at(wave * np.hanning(len(wave)), draw.uniform(-36, -26))


def hum(draw: Draw) -> Wave:
    """Somebody humming two notes without words."""
    time = np.arange(round(draw.uniform(0.8, 1.3) * RATE)) / RATE
    pitch = np.where(time < 0.5, draw.uniform(110, 220), draw.uniform(110, 220))
    turn = 2 * np.pi * np.cumsum(pitch) / RATE
    wave = sum(np.sin(n * turn) / n**2 for n in range(1, 9))
    return _at(np.asarray(wave) * np.hanning(len(time)) ** 0.3, draw.uniform(-28, -22))


KINDS: Mapping[str, Callable[[Draw], Wave]] = {
    noise.__name__: noise for noise in (pink, suction, handpiece, clatter, cough, breath, hum)
}
