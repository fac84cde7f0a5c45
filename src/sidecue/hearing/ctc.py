"""How probable each of many phrases is, given the phones of each frame.

The forward pass of connectionist temporal classification (A. Graves and others, ICML 2006),
all phrases at once, in linear scale with a running exponent.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sidecue.hearing.phone_head import BLANK, LogProbabilities

NEVER = -1e4  # log probability of what cannot be

Phones = tuple[int, ...]  # indices into `phones.PHONES`


@dataclass(frozen=True, slots=True)
class Sheet:
    """Phrases laid out for the forward pass: blanks before, between and after the phones."""

    classes: npt.NDArray[np.int64]  # (phrases, states)
    skips: npt.NDArray[np.float32]  # (phrases, states): 1 where a blank may be passed over
    last: npt.NDArray[np.int64]  # (phrases,): state of the last blank


def lay_out(phrases: Sequence[Phones]) -> Sheet:
    """Lay out non-empty phrases."""
    longest = max((len(phrase) for phrase in phrases), default=0)
    classes = np.full((len(phrases), 2 * longest + 1), BLANK, dtype=np.int64)
    skips = np.zeros(classes.shape, dtype=np.float32)
    for row, phrase in enumerate(phrases):
        classes[row, 1 : 2 * len(phrase) : 2] = phrase
        for at in range(1, len(phrase)):
            skips[row, 2 * at + 1] = phrase[at] != phrase[at - 1]
    last = np.array([2 * len(phrase) for phrase in phrases], dtype=np.int64)
    return Sheet(classes, skips, last)


def log_likelihoods(
    logs: LogProbabilities, sheet: Sheet, around: float = 0.0
) -> npt.NDArray[np.float64]:
    """Return the log probability of each phrase as the whole of what was said, (phrases,).

    With `around` > 0 other talk may stand before and after the phrase: each of its phones costs as
    if it had been `around` times as probable.
    """
    count, states = sheet.classes.shape
    if len(logs) == 0 or count == 0:
        return np.full(count, NEVER)
    rows = np.arange(count)
    likely = np.exp(logs)[:, sheet.classes]  # (frames, phrases, states)
    if around > 0:
        likely[:, :, 0] = likely[:, rows, sheet.last] = np.exp(_other_talk(logs, around))[:, None]
    now = np.zeros((count, states), dtype=np.float32)
    now[:, :2] = likely[0, :, :2]
    moved, passed, skips = np.empty_like(now), np.empty_like(now[:, 2:]), sheet.skips[:, 2:]
    scales = np.ones((len(logs), count), dtype=np.float32)
    for frame, scale in zip(likely[1:], scales[1:], strict=True):
        np.add(now[:, 1:], now[:, :-1], out=moved[:, 1:])
        moved[:, 0] = now[:, 0]
        moved[:, 2:] += np.multiply(now[:, :-2], skips, out=passed)
        np.multiply(moved, frame, out=now)
        np.maximum(now.max(axis=1), 1e-30, out=scale)
        now /= scale[:, None]
    exponent = np.log(scales, dtype=np.float64).sum(axis=0)
    total = now[rows, sheet.last] + now[rows, sheet.last - 1]
    return np.asarray(np.where(total > 1e-30, np.log(np.maximum(total, 1e-30)) + exponent, NEVER))


def freely(logs: LogProbabilities) -> Phones:
    """The phones of the most probable class of each frame, repeats and blanks left out."""
    best = logs.argmax(axis=1) if len(logs) else np.zeros(0, dtype=np.int64)
    return tuple(
        int(one) for at, one in enumerate(best) if one != BLANK and (at == 0 or best[at - 1] != one)
    )


def _other_talk(logs: LogProbabilities, around: float) -> LogProbabilities:
    """How probable each frame is as one of other talk, or as silence: logs, (frames,)."""
    phones = np.delete(logs, BLANK, axis=1).max(axis=1) + math.log(around)
    return np.asarray(np.maximum(logs[:, BLANK], phones), dtype=np.float32)


def aligned(logs: LogProbabilities, phrase: Phones, around: float = 0.0) -> npt.NDArray[np.int64]:
    """Return where each phone of `phrase` is likeliest on its best path: frames, (phones,).

    Empty when the sound is shorter than the phrase. `around`: see `log_likelihoods`.
    """
    sheet = lay_out([phrase])
    classes, skips = sheet.classes[0], sheet.skips[0] > 0
    if len(logs) < len(phrase) or not phrase:
        return np.zeros(0, dtype=np.int64)
    likely = logs[:, classes]
    if around > 0:
        likely[:, 0] = likely[:, -1] = _other_talk(logs, around)
    score = np.full(len(classes), NEVER, dtype=np.float64)
    score[:2] = likely[0, :2]
    came = np.zeros((len(logs), len(classes)), dtype=np.int8)
    for at in range(1, len(logs)):
        options = np.full((3, len(classes)), NEVER)
        options[0] = score
        options[1, 1:] = score[:-1]
        options[2, 2:] = np.where(skips[2:], score[:-2], NEVER)
        came[at] = options.argmax(axis=0)
        score = options.max(axis=0) + likely[at]
    state = int(len(classes) - 1 if score[-1] >= score[-2] else len(classes) - 2)
    best: dict[int, tuple[float, int]] = {}
    for at in range(len(logs) - 1, -1, -1):
        if state % 2:
            seen = (float(logs[at, classes[state]]), at)
            best[state // 2] = max(best.get(state // 2, (NEVER, 0)), seen)
        state -= int(came[at, state])
    return np.array([best[k][1] for k in sorted(best)], dtype=np.int64)
