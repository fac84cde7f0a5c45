"""Sounds at another rate."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import soxr

from sidecue.speaking.port import Sound


def at_rate(sound: Sound, rate: int) -> npt.NDArray[np.int16]:
    """Return the mono int16 samples of `sound` at `rate` Hz, clipped at full scale."""
    if sound.rate == rate or not len(sound.samples):
        return sound.samples
    converted = soxr.resample(sound.samples.astype(np.float32), sound.rate, rate)
    whole: npt.NDArray[np.int16] = np.clip(np.rint(converted), -32768, 32767).astype(np.int16)
    return whole
