"""Three chimes, told apart by rhythm alone, and unlike medical alarms.

IEC 60601-1-8 alarm signals are bursts of like pulses: ten for high priority (three, two, then
the same five again), three for medium, one or two for low; a pulse lasts 75-200 ms (high) or
125-250 ms (medium, low), its fundamental lies between 150 and 1,000 Hz, and at least four
harmonics lie between 300 and 4,000 Hz within 15 dB of it (fundamental and harmonics: maker's
summary at puiaudio.com/pages/iec-60601-1-8; counts and lengths: from memory). Avoided here:

- harmonics and a fundamental below 1,000 Hz: these are pure tones above 1,100 Hz;
- pulse lengths of 75-250 ms: these last 50 or 320 ms;
- bursts of three, five or ten, evenly spaced: these are one tick, a close pair, and four in
  an uneven rhythm (long, short, short, long);
- melodies: each chime keeps to one pitch.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from sidecue.session.effects import ChimeKind
from sidecue.speaking.port import Sound

RATE = 22_050
_LEVEL = 0.35  # of full scale
_EDGE = 0.006  # rise and fall, s: no click

# kind: (pitch in Hz, ((sounding, then silent), ...) in seconds)
_RHYTHM: dict[ChimeKind, tuple[float, tuple[tuple[float, float], ...]]] = {
    ChimeKind.HEARD: (1560.0, ((0.050, 0.0),)),
    ChimeKind.REFUSED: (1170.0, ((0.050, 0.060), (0.050, 0.0))),
    ChimeKind.DUE: (1320.0, ((0.320, 0.120), (0.050, 0.060), (0.050, 0.120), (0.320, 0.0))),
}


@cache
def chime(kind: ChimeKind) -> Sound:
    """Return the chime as mono int16 sound at 22,050 Hz."""
    pitch, rhythm = _RHYTHM[kind]
    parts = []
    for sounding, silent in rhythm:
        parts += [_pulse(pitch, sounding), np.zeros(round(silent * RATE))]
    return Sound((np.concatenate(parts) * 32767).astype(np.int16), RATE)


def _pulse(pitch: float, lasts: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    count = round(lasts * RATE)
    time = np.arange(count) / RATE
    edge = np.minimum(1.0, np.minimum(time, time[::-1]) / _EDGE)
    tone: np.ndarray[tuple[int], np.dtype[np.float64]] = (
        _LEVEL * np.sin(2 * np.pi * pitch * time) * np.sin(edge * np.pi / 2) ** 2
    )
    return tone
