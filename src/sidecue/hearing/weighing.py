"""What speaks for a cue and against it, as numbers: the features of the phone engine."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sidecue.hearing import spelling
from sidecue.hearing.ctc import aligned, freely, lay_out, log_likelihoods
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.own_speech import runs
from sidecue.hearing.phone_head import BLANK, LogProbabilities
from sidecue.hearing.spelling import Speller, Spelling
from sidecue.procedure.plan import Cue

FEATURES = (
    "against-free",  # log odds of the cue against the phones that were freely heard
    "expected",  # what that would be if the cue was said, from how unsure each frame is
    "surprise",  # how far below it is, in standard deviations
    "against-free-root",  # the same over the root of the number of phones
    "margin",  # log odds against the next best phrase that means something else, at most 12
    "undenied",  # log odds against the likeliest denial of the cue, at most 12
    "worst-phone",  # log probability of the cue's worst phone at its place
    "next-phone",  # of the second worst
    "mean-phone",  # of all, after the address
    "phones",  # log of the number of phones
    "addressed",  # 1 with the address phrase, 0 without
    "clear",  # how sure the free phones are, per phone
    "outside",  # frames before and after the cue that hold a phone
    "longest-gap",  # frames between two phones of the cue, at most 30
    "pace",  # frames a phone: distance from the usual, in log
)
MOST = 12.0
OWN_ODDS = 4.0  # log odds by which our own words must fit better than a cue, to be what was heard
BESIDE = 3  # frames around a cue that are looked at with it
FLOOR = -12.0  # log probability below which a phone is simply not there
USUAL_PACE = 3.6  # frames a phone, median of right readings in training


@dataclass(frozen=True, slots=True)
class Reading:
    """The likeliest of what may have been said, and what is told for it where it is a cue."""

    best: Spelling | None  # None for no phones at all
    features: dict[str, float]  # empty where it is no cue
    denial: str | None = None  # of the cue, where that is likelier still

    @property
    def cue(self) -> Cue | None:
        """The cue that may be meant."""
        return self.best.path.cue if self.best is not None and self.denial is None else None


def read(
    logs: LogProbabilities, speller: Speller, address: str, saying: tuple[str, ...] = ()
) -> Reading:
    """Read an utterance. `address` is what comes before a cue that is addressed; `saying` is what
    our own voice says meanwhile."""
    spellings, likely = speller.scored(logs)
    if not spellings:
        return Reading(None, {})
    found = spellings[0]
    if found.path.cue is None:
        return Reading(found, {})
    meaning = _meaning(found)
    others = [value for each, value in zip(spellings, likely, strict=True)
              if _meaning(each) != meaning]  # fmt: skip
    own = len(address.split()) if found.path.addressed else 0
    features = _features(logs, found, own)
    features["margin"] = _held(float(likely[0] - max(others, default=-1e3)))
    denials = list(found.denied(own, speller.lexicon, amid=bool(saying)))
    denied = log_likelihoods(logs, lay_out([phones for _, phones in denials]), spelling.AROUND)
    worst = int(denied.argmax()) if denials else None
    features["undenied"] = MOST if worst is None else _held(float(likely[0] - denied[worst]))
    denial = denials[worst][0] if worst is not None and denied[worst] > likely[0] else None
    return Reading(found, features, denial or _our_own(logs, found, speller.lexicon, saying))


def _our_own(
    logs: LogProbabilities, found: Spelling, lexicon: Lexicon, saying: tuple[str, ...]
) -> str | None:
    """Return the words of our own that fit better where a cue was found, or None."""
    known = list(runs(saying, lexicon, len(found.phones)))
    if not known:
        return None
    within = _place(logs, aligned(logs, found.phones, spelling.AROUND))
    sheet = lay_out([found.phones, *(phones for _, phones in known)])
    likely = log_likelihoods(within, sheet, spelling.AROUND)
    best = int(likely[1:].argmax())
    return known[best][0] if likely[1 + best] > likely[0] + OWN_ODDS else None


def _place(logs: LogProbabilities, places: npt.NDArray[np.int64]) -> LogProbabilities:
    """Return the frames of a cue whose phones are at `places`, and a few around them."""
    first, last = (int(places[0]), int(places[-1])) if len(places) else (0, len(logs) - 1)
    return logs[max(0, first - BESIDE) : last + 1 + BESIDE]


def _held(odds: float) -> float:
    return max(-MOST, min(MOST, odds))


def _meaning(spelling: Spelling) -> str:
    cue = spelling.path.cue
    return f"cue {cue.id}" if cue is not None else f"no cue {spelling.path.phrase}"


def _features(logs: LogProbabilities, found: Spelling, own: int) -> dict[str, float]:
    phones = found.phones
    count = len(phones)
    places = aligned(logs, phones, spelling.AROUND)
    first, last = (int(places[0]), int(places[-1])) if len(places) else (0, len(logs) - 1)
    within = _place(logs, places)
    free = freely(within)
    heard = (
        float(log_likelihoods(within, lay_out([free]))[0])
        if free
        else float(within[:, BLANK].sum())
    )
    likely = float(log_likelihoods(within, lay_out([phones]), spelling.AROUND)[0])
    skip = min(sum(len(word) for word in found.words[:own]), count - 1)
    each = np.maximum(logs[places, phones], FLOOR) if len(places) else np.full(count, FLOOR)
    ordered = np.sort(each)
    sounding = logs.argmax(axis=1) != BLANK
    outside = int(sounding[: max(0, first - 1)].sum() + sounding[last + 2 :].sum())
    gaps = np.diff(places) if len(places) > 1 else np.zeros(1)
    odds = min(0.0, likely - heard)
    below = within - within.max(axis=1, keepdims=True)
    weight = np.exp(within)
    mean = (weight * below).sum(axis=1)
    spread = (weight * below**2).sum(axis=1) - mean**2
    expected = float(mean.sum())
    surprise = (odds - expected) / math.sqrt(1.0 + float(spread.sum()))
    return {
        "against-free": max(-40.0, odds),
        "expected": max(-40.0, expected),
        "surprise": max(-30.0, surprise),
        "against-free-root": max(-12.0, odds / math.sqrt(count)),
        "worst-phone": float(ordered[0]),
        "next-phone": float(ordered[min(1, count - 1)]),
        "mean-phone": float(each[skip:].mean()),
        "phones": math.log(count),
        "addressed": float(found.path.addressed),
        "clear": heard / max(1, len(free)),
        "outside": float(min(20, outside)),
        "longest-gap": float(min(30, gaps.max())),
        "pace": abs(math.log(max(1, last - first + 1) / count / USUAL_PACE)),
    }
