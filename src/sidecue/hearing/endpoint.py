"""Where an utterance begins and ends, against a noise floor that is always being measured.

Works on whole 10 ms frames and on the clock of its blocks, so a recording and a live microphone
with the same samples give the same utterances.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt
from numpy.lib.stride_tricks import sliding_window_view

from sidecue.hearing.conditioning import FRAME
from sidecue.hearing.port import RATE, Block, Samples

_WINDOW = 400  # samples of one spectrum, 25 ms
_EDGES_HZ = (150, 400, 700, 1100, 1600, 2300, 3200, 4500, 6500)
_BANDS = len(_EDGES_HZ) - 1
_POINTS = 512  # of the transform


@dataclass(frozen=True, slots=True)
class Timing:
    """How long things take, in seconds. `settle` is when a finished cue may already be tried."""

    settle: float = 0.16
    pause: float = 0.40  # longer than any pause inside a cue (350 ms)
    before: float = 0.20  # kept before the onset
    longest: float = 5.0
    shortest: float = 0.12  # of voiced frames; less is a click


@dataclass(frozen=True, slots=True)
class Utterance:
    """A stretch of sound that somebody may have spoken.

    `ended` is where the sound fell quiet, not when that was noticed. `final` is False for a first
    offer that may still go on; the same utterance is offered again when it does, or when it is
    over. `same` tells that nothing was said since the last offer.
    """

    started: float
    ended: float
    samples: Samples
    final: bool
    same: bool = False


class NoiseFloor:
    """Power of each band while nobody speaks: a low percentile of the last seconds."""

    HISTORY = 300  # frames
    EVERY = 5  # frames between looks

    def __init__(self) -> None:
        self._past = np.full((self.HISTORY, _BANDS), -90.0)
        self._count = 12  # the first frames stand against a quiet room
        self._age = 0
        self._floor = np.full(_BANDS, -85.0)

    def over(self, bands: npt.NDArray[np.float64]) -> float:
        """How far a frame stands out of the noise, dB: the mean over bands, each 0 to 25."""
        self._past[self._count % self.HISTORY] = bands
        self._count += 1
        self._age += 1
        if self._age % self.EVERY == 0:
            past = self._past[: min(self._count, self.HISTORY)]
            rank = len(past) // 5
            low = np.partition(past, rank, axis=0)[rank]
            self._floor = np.maximum(low + 2.0, -85.0)
        return float(np.minimum(np.maximum(bands - self._floor, 0.0), 25.0).sum()) / _BANDS


class Endpointer:
    """Blocks in, utterances out."""

    ONSET_DB = 5.0
    STAY_DB = 3.0
    ONSET_FRAMES = 4  # of the last six

    def __init__(self, timing: Timing | None = None) -> None:
        self._timing = timing or Timing()
        frequencies = np.fft.rfftfreq(_POINTS, 1 / RATE)
        edges = np.searchsorted(frequencies, _EDGES_HZ)
        self._gather = np.zeros((len(frequencies), _BANDS))  # bins to bands
        for band, (low, high) in enumerate(pairwise(edges)):
            self._gather[low:high, band] = 1.0 / (32768.0**2 * 100 * _WINDOW)
        self._taper = np.hanning(_WINDOW)
        self._clear(0.0)

    def _clear(self, at: float) -> None:
        self._floor = NoiseFloor()
        self._from = at  # time of the first sample of `_held`
        self._held: Samples = np.zeros(0, dtype=np.int16)
        self._seen = 0  # samples of `_held` that were looked at
        self._recent: deque[bool] = deque(maxlen=6)
        self._smooth: deque[float] = deque(maxlen=3)
        self._onset: int | None = None
        self._last_voiced = 0
        self._voiced = 0
        self._offered = -1  # the last voiced sample of the latest offer
        self._dropping = False

    @property
    def speaking(self) -> bool:
        """True inside an utterance."""
        return self._onset is not None

    def drop(self) -> None:
        """Forget the rest of the running utterance: it was acted on already."""
        if self._onset is not None:
            self._dropping = True

    def feed(self, block: Block) -> list[Utterance]:
        """Take a block in; return the utterances that ended or may have ended by its end."""
        found: list[Utterance] = []
        if len(block.samples) == 0:
            return found
        expected = self._from + len(self._held) / RATE
        if len(self._held) == 0:
            self._from = block.at
        elif abs(block.at - expected) > 0.25:
            self._clear(block.at)  # a hole: what was held is half a sentence, and is never judged
        self._held = np.concatenate([self._held, block.samples])
        for bands in self._powers():
            self._seen += FRAME
            found += self._frame(self._floor.over(bands))
        self._forget()
        return found

    def flush(self) -> list[Utterance]:
        """The source has ended: return what was still being said."""
        return self._close(final=True) if self._onset is not None else []

    def _powers(self) -> npt.NDArray[np.float64]:
        """Power of each band in every whole window not looked at yet: (windows, bands), dB."""
        count = max(0, (len(self._held) - self._seen - _WINDOW) // FRAME + 1)
        if count == 0:
            return np.zeros((0, _BANDS))
        end = self._seen + (count - 1) * FRAME + _WINDOW
        windows = sliding_window_view(self._held[self._seen : end], _WINDOW)[::FRAME]
        spectra = np.fft.rfft(windows * self._taper, _POINTS, axis=1)
        power = spectra.real**2 + spectra.imag**2
        decibels: npt.NDArray[np.float64] = 10 * np.log10(power @ self._gather + 1e-12)
        return decibels

    def _frame(self, over: float) -> list[Utterance]:
        self._smooth.append(over)
        level = sum(self._smooth) / len(self._smooth)
        self._recent.append(level >= self.ONSET_DB)
        if self._onset is None:
            if sum(self._recent) >= self.ONSET_FRAMES:
                begin = self._seen - len(self._recent) * FRAME - int(self._timing.before * RATE)
                self._onset = max(0, begin)
                self._last_voiced = self._seen
                self._voiced = sum(self._recent)
                self._offered = -1
            return []
        if level >= self.STAY_DB:
            self._last_voiced = self._seen
            self._voiced += level >= self.ONSET_DB
        quiet = (self._seen - self._last_voiced) / RATE
        if quiet >= self._timing.pause or (self._seen - self._onset >= self._timing.longest * RATE):
            return self._close(final=True)
        if quiet >= self._timing.settle and self._offered != self._last_voiced:
            return self._close(final=False)
        return []

    def _close(self, *, final: bool) -> list[Utterance]:
        begin, end = self._onset or 0, self._last_voiced
        keep = min(len(self._held), end + int(0.12 * RATE))
        utterance = Utterance(
            started=self._from + begin / RATE,
            ended=self._from + end / RATE,
            samples=self._held[begin:keep].copy(),
            final=final,
            same=self._offered == end,
        )
        real = self._voiced * FRAME >= self._timing.shortest * RATE and not self._dropping
        if final:
            self._onset = None
            self._dropping = False
            self._recent.clear()
        else:
            self._offered = end
        return [utterance] if real else []

    def _forget(self) -> None:
        """Let go of samples nobody will ask for."""
        keep = int((self._timing.before + 0.5) * RATE)
        start = self._onset if self._onset is not None else max(0, self._seen - keep)
        if start >= RATE:
            self._held = self._held[start:]
            self._from += start / RATE
            self._seen -= start
            self._last_voiced -= start
            if self._offered >= 0:
                self._offered -= start
            if self._onset is not None:
                self._onset = 0
