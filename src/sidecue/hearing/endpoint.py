"""Where an utterance begins and ends, against a noise floor that is always being measured.

Works on whole 10 ms frames and on the clock of its blocks, so a recording and a live microphone
with the same samples give the same utterances.

The level alone tells little in a loud room: suction begins like a word and hides where one ends.
An engine that finds talk is asked then; the level only says when asking is worth its time.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from sidecue.hearing.conditioning import FRAME
from sidecue.hearing.port import RATE, Block, FindsTalk, Samples

_WINDOW = 400  # samples of one spectrum, 25 ms
_EDGES_HZ = (150, 400, 700, 1100, 1600, 2300, 3200, 4500, 6500)
_BANDS = len(_EDGES_HZ) - 1
_POINTS = 512  # of the transform


@dataclass(frozen=True, slots=True)
class Timing:
    """How long things take, in seconds. `settle` is when a finished cue may already be tried."""

    settle: float = 0.16
    pause: float = 0.40  # longer than any pause inside a cue (350 ms)
    noisy: float = 0.55  # the same where noise may hide a syllable
    address: float = 1.20  # pause after the address alone: people look before they go on
    before: float = 0.20  # kept before the onset
    earlier: float = 0.35  # the same with a finder, which takes no harm from noise
    longest: float = 5.0
    shortest: float = 0.12  # of voiced frames; less is a click
    asking: float = 0.24  # between two questions to an engine that finds talk
    loud: float = 0.80  # the same while it is as loud as somebody who talks
    clear: float = 2.40  # the same where talk stands out so far that its level tells its end
    idle: float = 1.0  # sound without talk that is let go
    glimpse: float = 2.2  # of talk that goes on, longer than any stop word


@dataclass(frozen=True, slots=True)
class Utterance:
    """A stretch of sound that somebody may have spoken.

    `ended` is where the sound fell quiet, not when that was noticed. `final` is False for a first
    offer that may still go on; the same utterance is offered again when it does, or when it is
    over. `same` tells that nothing was said since the last offer. `part` is what was said last in
    talk that goes on.
    """

    started: float
    ended: float
    samples: Samples
    final: bool
    same: bool = False
    part: bool = False


class NoiseFloor:
    """Power of each band while nobody speaks: a low percentile of the last seconds."""

    HISTORY = 300  # frames
    EVERY = 5  # frames between looks

    def __init__(self) -> None:
        self._past = np.full((self.HISTORY, _BANDS), -90.0)
        self._count = 12  # the first frames stand against a quiet room
        self._age = 0
        self._floor = np.full(_BANDS, -85.0)

    def over(self, frames: npt.NDArray[np.float64]) -> list[float]:
        """How far each of some frames, (frames, bands), stands out of the noise, dB: the mean over
        bands, each 0 to 25. Every so many frames, with the frame itself, the floor is found anew.
        """
        found: list[float] = []
        while len(frames):
            left = self.EVERY - 1 - self._age % self.EVERY  # frames that stand against one floor
            self._keep(frames[0])
            if left == 0:
                left = self.EVERY
                self._look()
            some, frames = frames[:left], frames[left:]
            for frame in some[1:]:
                self._keep(frame)
            out = np.minimum(np.maximum(some - self._floor, 0.0), 25.0)
            found += (out.sum(axis=1) / _BANDS).tolist()
        return found

    def _keep(self, frame: npt.NDArray[np.float64]) -> None:
        self._past[self._count % self.HISTORY] = frame
        self._count += 1
        self._age += 1

    def _look(self) -> None:
        past = self._past[: min(self._count, self.HISTORY)]
        rank = len(past) // 5
        low = np.partition(past, rank, axis=0)[rank]
        self._floor = np.maximum(low + 2.0, -85.0)


class Endpointer:
    """Blocks in, utterances out. With a `finder`, talk is what it says is talk."""

    ONSET_DB = 5.0
    STAY_DB = 3.0
    ONSET_FRAMES = 4  # of the last six
    FOUND_ONSET_DB = 3.0  # a finder may be asked about less
    CLEAR_DB = 15.0  # talk that stands out of the noise that far,
    DIP_DB = 6.0  # and falls as low as that between its syllables, ends where its level falls
    SYLLABLES = 80  # frames in which it does so
    LATELY = 20  # frames in which somebody who talks is loud at least once
    EBBING = 10  # frames more, where the level is expected to fall by itself
    HIDING = 10  # frames over the noise after the last talk: something goes on there
    NOISE_BEFORE = int(0.2 * RATE)  # samples of noise before talk that are cut off

    def __init__(
        self, timing: Timing | None = None, finder: FindsTalk | None = None, opening: str = ""
    ) -> None:
        """`opening` is the address, for a `finder` to tell that more must come."""
        self.opening = opening
        #: Look for a word inside talk that goes on, such as a stop word over our own voice.
        self.spotting = False
        self._timing = timing or Timing()
        self._finder = finder
        self._onset_db = self.ONSET_DB if finder is None else self.FOUND_ONSET_DB
        self._before = self._timing.before if finder is None else self._timing.earlier
        frequencies = np.fft.rfftfreq(_POINTS, 1 / RATE)
        edges = np.searchsorted(frequencies, _EDGES_HZ)
        self._gather = np.zeros((len(frequencies), _BANDS))  # bins to bands
        for band, (low, high) in enumerate(pairwise(edges)):
            self._gather[low:high, band] = 1.0 / (32768.0**2 * 100 * _WINDOW)
        self._taper = np.hanning(_WINDOW)
        self._within = np.arange(_WINDOW)
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
        self._loud = 0  # where the level was last over the noise
        self._peak = 0.0  # the highest level since the onset, dB over the noise
        self._dipped = 0  # where it was last as low as between syllables
        self._strong = 0  # where the level was last at half of that or more
        self._voiced = 0
        self._offered = -1  # the last voiced sample of the latest offer
        self._asked = 0  # where the finder was last asked
        self._talked = False  # the finder has found talk since the onset
        self._more = False  # and it was no more than the address
        self._dropping = False

    @property
    def speaking(self) -> bool:
        """True inside an utterance."""
        return self._onset is not None and (self._finder is None or self._talked)

    def drop(self) -> None:
        """Forget the rest of the running utterance: it was acted on already."""
        if self._onset is not None:
            self._dropping = True

    def feed(self, block: Block) -> Iterator[Utterance]:
        """Take a block in; yield the utterances that ended or may have ended by its end.

        They come one by one, so that `drop` counts at once: a long block may hold an offer of an
        utterance and its end.
        """
        if len(block.samples) == 0:
            return
        expected = self._from + len(self._held) / RATE
        if len(self._held) == 0:
            self._from = block.at
        elif abs(block.at - expected) > 0.25:
            self._clear(block.at)  # a hole: what was held is half a sentence, and is never judged
        self._held = np.concatenate([self._held, block.samples])
        for over in self._floor.over(self._powers()):
            self._seen += FRAME
            yield from self._frame(over)
        self._forget()

    def flush(self) -> list[Utterance]:
        """The source has ended: return what was still being said."""
        if self._onset is None:
            return []
        if self._finder is not None:
            self._ask(self._finder)
        return self._close(final=True)

    def _powers(self) -> npt.NDArray[np.float64]:
        """Power of each band in every whole window not looked at yet: (windows, bands), dB."""
        count = max(0, (len(self._held) - self._seen - _WINDOW) // FRAME + 1)
        if count == 0:
            return np.zeros((0, _BANDS))
        begins = self._seen + FRAME * np.arange(count)
        windows = self._held[begins[:, None] + self._within]
        spectra = np.fft.rfft(windows * self._taper, _POINTS, axis=1)
        power = spectra.real**2 + spectra.imag**2
        decibels: npt.NDArray[np.float64] = 10 * np.log10(power @ self._gather + 1e-12)
        return decibels

    def _frame(self, over: float) -> list[Utterance]:
        self._smooth.append(over)
        level = sum(self._smooth) / len(self._smooth)
        self._recent.append(level >= self._onset_db)
        if self._onset is None:
            if sum(self._recent) >= self.ONSET_FRAMES:
                self._open()
            return []
        self._peak = max(self._peak, level)
        if level < self.DIP_DB:
            self._dipped = self._seen
        if level > self._peak / 2:
            self._strong = self._seen
        if level >= self.STAY_DB:
            self._loud = self._seen
            if self._finder is None:
                self._last_voiced = self._seen
                self._voiced += level >= self._onset_db
        if self._finder is not None and not self._may_have_ended(self._finder):
            return []
        quiet = (self._seen - self._last_voiced) / RATE
        if quiet >= self._pause() or (self._seen - self._onset >= self._timing.longest * RATE):
            return self._close(final=True)
        unheard = self._offered != self._last_voiced and not self._more
        if quiet >= self._timing.settle and unheard:
            return self._close(final=False)
        return self._glimpse() if self.spotting and self._asked == self._seen else []

    def _pause(self) -> float:
        """How long nothing may be said before it is over, in seconds."""
        if self._more:
            return self._timing.address
        hidden = self._finder is not None and self._loud > self._last_voiced + FRAME * self.HIDING
        return self._timing.noisy if hidden else self._timing.pause

    def _open(self) -> None:
        begin = self._seen - len(self._recent) * FRAME - int(self._before * RATE)
        self._onset = max(0, begin)
        self._last_voiced = self._loud = self._strong = self._asked = self._seen
        self._voiced = sum(self._recent)
        self._peak = 0.0
        self._dipped = self._seen
        self._offered = -1
        self._talked = self._more = False

    def _may_have_ended(self, finder: FindsTalk) -> bool:
        """Ask the finder where it is worth its time; True when talk may have ended.

        In a quiet room the level falls where talk ends, and what follows is known to be none.
        Where it does not fall, ask now and then: the more rarely the longer it lasts, while it is
        as loud as it was, and while it falls between syllables and so would be seen to end.
        """
        onset = self._onset or 0
        fallen = self._seen - self._loud
        settled = int(self._timing.settle * RATE)
        if fallen >= settled:
            if self._asked < self._loud + settled:
                self._ask(finder)
            if not self._talked and fallen >= self._timing.pause * RATE:
                self._let_go()
            return self._talked and self._onset is not None
        if self._seen < self._due(onset):
            return False
        self._ask(finder)
        if not self._talked and self._seen - onset >= self._timing.idle * RATE:
            self._let_go()
        return self._talked and self._onset is not None

    def _due(self, onset: int) -> int:
        """When to ask next where the level does not fall, as a place in what is held."""
        dips = self._seen - self._dipped < FRAME * self.SYLLABLES
        clear = self._talked and self._peak >= self.CLEAR_DB and dips
        lately = self.LATELY + (self.EBBING if clear else 0)
        still = self._seen - self._strong < lately * FRAME
        wait = self._timing.asking
        if still and not self.spotting:
            wait = self._timing.clear if clear else self._timing.loud
        return self._asked + round(max(wait, 0.1 * (self._seen - onset) / RATE) * RATE)

    def _ask(self, finder: FindsTalk) -> None:
        """Where talk was last, by the finder."""
        onset = self._onset or 0
        if self.spotting:
            onset = self._lately(onset)
        self._asked = self._seen
        talk = finder.talk(self._held[onset : self._seen], self.opening)
        if talk is None:
            return
        found_before, self._talked, self._more = self._talked, True, talk.more
        self._last_voiced = min(self._seen, onset + int(talk.last * RATE) // FRAME * FRAME)
        self._voiced = int((talk.last - talk.first) * RATE) // FRAME
        late = int((talk.first - self._before) * RATE) // FRAME * FRAME
        whole = not (self.spotting and found_before)
        if late > self.NOISE_BEFORE and self._offered < 0 and whole:
            self._onset = onset + late  # noise, and then a word

    def _lately(self, onset: int) -> int:
        """Where a glimpse begins."""
        return max(onset, self._seen - round(self._timing.glimpse * RATE))

    def _glimpse(self) -> list[Utterance]:
        """What was said last, in talk that goes on."""
        if self._onset is None or self._dropping:
            return []
        begin = self._lately(self._onset)
        times = (self._from + begin / RATE, self._from + self._last_voiced / RATE)
        return [Utterance(*times, self._held[begin : self._seen].copy(), False, part=True)]

    def _let_go(self) -> None:
        """It was no talk. Should a word just have begun, the next onset reaches back for it."""
        self._onset = None
        self._dropping = False
        self._recent.clear()

    def _close(self, *, final: bool) -> list[Utterance]:
        begin, end = self._onset or 0, self._last_voiced
        keep = min(len(self._held), end + int(0.12 * RATE))
        if self._finder is not None:
            keep = min(self._seen, self._asked)  # what the finder was asked about: known to it
        utterance = Utterance(
            started=self._from + begin / RATE,
            ended=self._from + end / RATE,
            samples=self._held[begin:keep].copy(),
            final=final,
            same=self._offered == end,
        )
        real = self._voiced * FRAME >= self._timing.shortest * RATE and not self._dropping
        real = real and (self._finder is None or self._talked)
        if final:
            self._onset = None
            self._dropping = False
            self._recent.clear()
        else:
            self._offered = end
        return [utterance] if real else []

    def _forget(self) -> None:
        """Let go of samples nobody will ask for."""
        keep = int((self._before + 0.5) * RATE)
        start = self._onset if self._onset is not None else max(0, self._seen - keep)
        if start >= RATE:
            self._held = self._held[start:]
            self._from += start / RATE
            self._seen -= start
            self._last_voiced -= start
            self._loud -= start
            self._strong -= start
            self._dipped -= start
            self._asked -= start
            if self._offered >= 0:
                self._offered -= start
            if self._onset is not None:
                self._onset = 0
