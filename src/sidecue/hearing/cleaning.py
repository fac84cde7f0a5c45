"""Sound cleaned of noise as it grows: what was cleaned before is not cleaned again.

RNNoise takes a twelfth of the time that the sound lasts. An utterance is asked about again and
again while it is spoken, each time a little longer; cleaned piece by piece it costs that time
while the talker talks, and next to nothing when he has ended.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import soxr

from sidecue.hearing.conditioning import DENOISE_DELAY, DENOISE_FRAME, DENOISE_RATE, NoiseRemover
from sidecue.hearing.port import RATE, Samples

_RATIO = DENOISE_RATE // RATE
_STEP = DENOISE_FRAME // _RATIO  # samples of a frame at our own rate
_BESIDE = 4 * _STEP  # samples on both sides that a piece is resampled with
_NEEDLE = 80  # samples that a place is found again by
LONGEST = 8 * RATE  # samples that are kept


class Cleaner:
    """Cleans one stream. One thread owns it."""

    _remover: NoiseRemover
    _raw: Samples  # what was asked about, in a row
    _cleaned: Samples  # of it, as far as it came out
    _taken: int  # samples of `_raw` that went in
    _skip: int  # of what comes out, before the first sample

    def __init__(self) -> None:
        self._begin(np.zeros(0, np.int16))

    def clean(self, samples: Samples) -> Samples:
        """Return `samples` (mono 16 kHz int16) without noise, same length, aligned.

        The last frames, which the cleaning lags behind by, come back as they are. So does all
        where RNNoise is missing.
        """
        place = self._found(samples)
        if place is None:
            self._begin(samples)
            place = 0
        else:
            self._raw = np.concatenate([self._raw, samples[len(self._raw) - place :]])
        self._go_on()
        known = self._cleaned[place : place + len(samples)]
        self._let_go(place)
        return np.concatenate([known, samples[len(known) :]])

    def _begin(self, samples: Samples) -> None:
        self._remover = NoiseRemover()
        self._raw = samples.copy()
        self._cleaned = np.zeros(0, np.int16)
        self._taken = 0
        self._skip = DENOISE_DELAY

    def _found(self, samples: Samples) -> int | None:
        """Where `samples` begin in what is known, when they go on with it."""
        needle = samples[:_NEEDLE].tobytes()
        if len(samples) < _NEEDLE or len(self._raw) < _NEEDLE:
            return None
        at = self._raw.tobytes().find(needle)
        while at >= 0 and at % 2:
            at = self._raw.tobytes().find(needle, at + 1)
        if at < 0:
            return None
        both = min(len(self._raw) - at // 2, len(samples))
        same = np.array_equal(self._raw[at // 2 : at // 2 + both], samples[:both])
        return at // 2 if same else None

    def _go_on(self) -> None:
        """Send whole frames through, but for the last, which are resampled with what follows."""
        end = (len(self._raw) - _BESIDE) // _STEP * _STEP
        if end <= self._taken:
            return
        first = max(0, self._taken - _BESIDE)
        piece = self._raw[first : end + _BESIDE].astype(np.float32)
        wide = soxr.resample(piece, RATE, DENOISE_RATE)
        skipped = (self._taken - first) * _RATIO
        fresh = self._remover.through(wide[skipped : skipped + (end - self._taken) * _RATIO])
        self._taken = end
        dropped = min(self._skip, len(fresh))
        self._skip -= dropped
        self._cleaned = np.concatenate([self._cleaned, _narrow(fresh[dropped:])])

    def _let_go(self, place: int) -> None:
        """Forget what nobody will ask about."""
        old = min(len(self._raw) - LONGEST, place, len(self._cleaned), self._taken - _BESIDE)
        if old > 0:
            self._raw, self._cleaned = self._raw[old:], self._cleaned[old:]
            self._taken -= old


def _narrow(wide: npt.NDArray[np.float32]) -> Samples:
    """Every third sample: nothing above our own band went in, so none comes out."""
    return np.asarray(np.clip(np.rint(wide[::_RATIO]), -32768, 32767), np.int16)
