"""Thresholds for one voice, microphone and room, from what was said there. Pure.

A sitting yields trials (a phrase that was wanted, what was read, how probable it was) and stretches
of ordinary talk with the likeliest cue of each tier in them. Both are few: twenty phrases and a
minute. They can show that a threshold shuts out a voice, or that a room's talk climbs over it; they
cannot show that a rare mistake is rare (none in 20 still leaves one in six open). Hence the bounds:

* guarded, stop and alarm never go below the shipped thresholds. The first two let pass 0.6 and 1.3
  per cent of what was no cue, of thousands of utterances (the report in `data`), the last was set
  by hours of talk (`benchmarks.listening.alarms`); no count of twenty can tell that a lower one
  holds that.
* free and advance may go down by `DROP`, and never under the least probability that the shipped
  ones were allowed: what they do is nothing, or is undone by one utterance. How far is a judgement;
  what passes below the shipped ones was not counted.
* nothing goes above `MOST`, where many cues would have to be said twice, and nothing goes down
  without enough talk to go by.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from sidecue.procedure.plan import Tier

#: The least probabilities that `benchmarks.listening.train` allows these tiers.
LEAST = {Tier.FREE: 0.30, Tier.ADVANCE: 0.40}
DROP = 0.15
MOST = 0.90
MISSES = 0.05  # of the phrases that were read right may be given up to be rid of talk
ABOVE = 0.01  # a threshold stands above what must not pass by this much
BELOW = 0.02  # and below what must
LEAST_MOVE = 0.02  # less than this is not worth lowering for
FEWEST_RIGHT = 10  # phrases read right, and half of them: with fewer the sound is not fit to use
FEWEST_TALK = 5  # stretches of talk; with fewer nothing is lowered

Thresholds = Mapping[Tier, float]


@dataclass(frozen=True, slots=True)
class Trial:
    """A phrase that was to be said, and the likeliest reading of what came.

    `heard` is the id of the cue that was read, whatever its probability `score`; None where
    nothing or no cue was. `read_as` is its phrase, and `read_tier` its tier.
    """

    cue: str
    phrase: str
    tier: Tier
    heard: str | None = None
    read_as: str = ""
    read_tier: Tier | None = None
    score: float = 0.0

    @property
    def right(self) -> bool:
        """The cue that was wanted is the one that was read."""
        return self.heard == self.cue

    @property
    def misread(self) -> bool:
        """Another cue was read."""
        return self.heard is not None and not self.right

    def missed(self, thresholds: Thresholds) -> bool:
        """True when its cue would not be acted on."""
        return not self.right or self.score < thresholds[self.tier]

    def acted_wrongly(self, thresholds: Thresholds) -> bool:
        """True when another cue would be."""
        return (
            self.misread
            and self.read_tier is not None
            and (self.score >= thresholds[self.read_tier])
        )


@dataclass(frozen=True, slots=True)
class Stretch:
    """One stretch of ordinary talk: the highest probability of a cue of each tier in it."""

    scores: tuple[tuple[Tier, float], ...] = ()

    def reaches(self, tier: Tier, limit: float) -> bool:
        """True when a cue of `tier` would be acted on."""
        return any(each is tier and score >= limit for each, score in self.scores)

    def taken(self, thresholds: Thresholds) -> bool:
        """True when any cue would be."""
        return any(self.reaches(tier, thresholds[tier]) for tier in Tier)

    @property
    def highest(self) -> float:
        """Of all tiers; 0 where no cue was near."""
        return max((score for _, score in self.scores), default=0.0)


@dataclass(frozen=True, slots=True)
class Share:
    """`count` of `of`, with its 95 per cent interval."""

    count: int
    of: int

    @property
    def part(self) -> float:
        """0 to 1; 0 of nothing is 0."""
        return self.count / self.of if self.of else 0.0

    @property
    def interval(self) -> tuple[float, float]:
        """Wilson's: wide where little was counted (Wilson 1927, J. Am. Stat. Assoc. 22:209)."""
        if self.of == 0:
            return 0.0, 1.0
        share, many, z = self.count / self.of, self.of, 1.96
        middle = (share + z * z / (2 * many)) / (1 + z * z / many)
        spread = math.sqrt(share * (1 - share) / many + z * z / (4 * many * many))
        half = z * spread / (1 + z * z / many)
        return max(0.0, middle - half), min(1.0, middle + half)


@dataclass(frozen=True, slots=True)
class Expected:
    """What is to be expected: phrases missed, phrases acted on as another cue, and stretches of
    talk taken for a cue."""

    missed: Share
    mistaken: Share
    taken: Share


@dataclass(frozen=True, slots=True)
class Worth:
    """What is to be expected of each tier, and on the whole."""

    tiers: Mapping[Tier, Expected]
    whole: Expected


@dataclass(frozen=True, slots=True)
class Point:
    """One place of the trade-off: were every threshold `limit`."""

    limit: float
    missed: Share
    taken: Share


def bounds(tier: Tier, shipped: float) -> tuple[float, float]:
    """Return the lowest and the highest threshold that `tier` may be given (see above)."""
    low = max(LEAST[tier], shipped - DROP) if tier in LEAST else shipped
    return min(shipped, low), max(shipped, MOST)


def enough(trials: Sequence[Trial]) -> bool:
    """True when so many phrases were read right that thresholds mean anything."""
    right = sum(trial.right for trial in trials)
    return right >= FEWEST_RIGHT and 2 * right >= len(trials)


def choose(
    trials: Sequence[Trial], talk: Sequence[Stretch], shipped: Thresholds
) -> dict[Tier, float]:
    """Return a threshold for each tier.

    A tier is lowered, as far as this voice needs it, only while no talk came near; it is raised
    over the talk that was taken for it. Guarded rises over any tier's talk, whatever that costs;
    the others rise only as far as `MISSES` lets them: a stop word that is missed is worse than a
    pause too many.
    """
    return {tier: _limit(tier, trials, talk, shipped[tier]) for tier in Tier}


def expected(trials: Sequence[Trial], talk: Sequence[Stretch], shipped: Thresholds) -> Worth:
    """Return what `choose` is worth, for the phrases and the talk of each tier, and on the whole.

    Each trial and each stretch is judged by thresholds that were chosen without it, else the
    numbers that set them would praise them.
    """
    missed, mistaken, taken = (dict.fromkeys(Tier, 0) for _ in range(3))
    for at, trial in enumerate(trials):
        others = choose((*trials[:at], *trials[at + 1 :]), talk, shipped)
        missed[trial.tier] += trial.missed(others)
        if trial.read_tier is not None and trial.acted_wrongly(others):
            mistaken[trial.read_tier] += 1
    any_taken = 0
    for at, stretch in enumerate(talk):
        others = choose(trials, (*talk[:at], *talk[at + 1 :]), shipped)
        any_taken += stretch.taken(others)
        for tier in Tier:
            taken[tier] += stretch.reaches(tier, others[tier])
    asked = {tier: sum(trial.tier is tier for trial in trials) for tier in Tier}
    tiers = {
        tier: Expected(
            Share(missed[tier], asked[tier]),
            Share(mistaken[tier], len(trials)),
            Share(taken[tier], len(talk)),
        )
        for tier in Tier
    }
    whole = Expected(
        Share(sum(missed.values()), len(trials)),
        Share(sum(mistaken.values()), len(trials)),
        Share(any_taken, len(talk)),
    )
    return Worth(tiers, whole)


def at_thresholds(
    trials: Sequence[Trial], talk: Sequence[Stretch], thresholds: Thresholds
) -> Expected:
    """Return what these trials and this talk come to with given thresholds."""
    return Expected(
        Share(sum(trial.missed(thresholds) for trial in trials), len(trials)),
        Share(sum(trial.acted_wrongly(thresholds) for trial in trials), len(trials)),
        Share(sum(stretch.taken(thresholds) for stretch in talk), len(talk)),
    )


def trade_off(
    trials: Sequence[Trial], talk: Sequence[Stretch], limits: Iterable[float]
) -> tuple[Point, ...]:
    """Return misses against talk that is taken for a cue, at each of `limits`."""
    points = []
    for limit in limits:
        found = at_thresholds(trials, talk, dict.fromkeys(Tier, limit))
        points.append(Point(limit, found.missed, found.taken))
    return tuple(points)


def _limit(tier: Tier, trials: Sequence[Trial], talk: Sequence[Stretch], shipped: float) -> float:
    low, high = bounds(tier, shipped)
    needed = _needed([trial.score for trial in trials if trial.right], low, shipped)
    safe = _reached(tier, trials, talk) + ABOVE
    if safe > shipped:
        wanted = safe if tier is Tier.GUARDED else min(safe, max(shipped, needed))
    elif len(talk) >= FEWEST_TALK:
        wanted = min(shipped, max(safe, needed))
        wanted = shipped if shipped - wanted < LEAST_MOVE else wanted
    else:
        wanted = shipped
    # Up to the next thousandth, so that what reached it stays outside.
    return min(high, max(low, math.ceil(round(wanted * 1000, 6)) / 1000))


def _needed(right: Sequence[float], low: float, shipped: float) -> float:
    """The highest threshold that this voice gets over with all but `MISSES` of its phrases; those
    that would be missed at `low` already ask for nothing."""
    kept = sorted(right)[int(MISSES * len(right)) :]
    return next((score - BELOW for score in kept if score >= low), shipped)


def _reached(tier: Tier, trials: Sequence[Trial], talk: Sequence[Stretch]) -> float:
    """The highest probability of what must not pass: for guarded, of whatever tier it was."""
    scores = [
        score
        for stretch in talk
        for each, score in stretch.scores
        if each is tier or tier is Tier.GUARDED
    ]
    scores += [
        trial.score
        for trial in trials
        if trial.misread and (trial.read_tier is tier or tier is Tier.GUARDED)
    ]
    return max(scores, default=0.0)
