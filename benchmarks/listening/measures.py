"""The bench's own statistics: intervals, rates with bounds, trade-off curves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from benchmarks.listening.fitting import interval


def share(count: int, of: int) -> dict[str, float]:
    """A share in per cent with its Wilson 95 % interval."""
    low, high = interval(count, of)
    return {
        "count": count,
        "of": of,
        "percent": round(100 * count / of, 2) if of else 0.0,
        "low": round(100 * low, 2),
        "high": round(100 * high, 2),
    }


def most_events(count: int, confidence: float = 0.95) -> float:
    """The highest expected number that `count` seen events leave credible (Poisson, one-sided).

    None seen leaves 3.0 at 95 %: the rule of three.
    """

    def at_most(expected: float) -> float:
        terms = (
            math.exp(-expected + k * math.log(expected) - math.lgamma(k + 1))
            for k in range(count + 1)
        )
        return sum(terms)

    low, high = 1e-9, 10.0 + 3.0 * count
    for _ in range(80):
        middle = (low + high) / 2
        low, high = (middle, high) if at_most(middle) > 1 - confidence else (low, middle)
    return (low + high) / 2


def per_hour(count: int, hours: float) -> dict[str, float]:
    """Events per hour, and the upper 95 % bound."""
    return {
        "count": count,
        "hours": round(hours, 3),
        "per hour": round(count / hours, 3) if hours else 0.0,
        "at most": round(most_events(count) / hours, 3) if hours else math.inf,
    }


Curve = list[tuple[float, float, float]]  # threshold, share missed, share of others taken


def trade_off(right: Sequence[float], wrong: Sequence[float]) -> Curve:
    """Misses against false acceptances at every threshold; a score of 0 is never accepted."""
    good, bad = np.sort(np.asarray(right, float)), np.sort(np.asarray(wrong, float))
    limits = np.unique(np.concatenate([good, bad, [1e-9]]))
    limits = limits[limits > 0]
    return [
        (
            float(limit),
            float(np.searchsorted(good, limit) / max(1, len(good))),
            float(1 - np.searchsorted(bad, limit) / max(1, len(bad))),
        )
        for limit in limits
    ]


def equal_error(curve: Curve) -> float:
    """Where misses equal false acceptances, between the two nearest points of the curve; where
    more is never found than is falsely taken at any threshold, the share never found."""
    before = (0.0, 1.0) if not curve or curve[0][1] < curve[0][2] else curve[0][1:]
    for _, missed, taken in curve:
        if missed >= taken:
            gap, last = missed - taken, before[1] - before[0]
            part = last / (last + gap) if last + gap > 0 else 1.0
            return before[0] + part * (missed - before[0])
        before = (missed, taken)
    return before[0]


def missed_at(curve: Curve, taken: float) -> float:
    """The fewest misses at no more than `taken` false acceptances; 1.0 where none will do."""
    return min((missed for _, missed, false in curve if false <= taken), default=1.0)


def percentiles(values: Iterable[float]) -> dict[str, float]:
    """Median and 95th percentile, with how many; empty when there are none."""
    found = sorted(values)
    if not found:
        return {"count": 0}
    return {
        "count": len(found),
        "p50": round(float(np.percentile(found, 50)), 3),
        "p95": round(float(np.percentile(found, 95)), 3),
    }


def drift(parts: Iterable[tuple[float, float]]) -> float | None:
    """MB gained per hour, from (seconds heard, MB at their end) in order, the first left out as
    the filling of caches; None from fewer than four."""
    hours, memory, heard = [], [], 0.0
    for seconds, resident in parts:
        heard += seconds / 3600
        hours.append(heard)
        memory.append(resident)
    if len(hours) < 4:
        return None
    return round(float(np.polyfit(hours[1:], memory[1:], 1)[0]), 2)


def grouped(
    rows: Iterable[dict[str, Any]], key: str, told: Callable[[list[dict[str, Any]]], Any]
) -> dict[str, Any]:
    """`told` of the rows of each value of a column, in the column's order."""
    groups: dict[Any, list[dict[str, Any]]] = {}
    for row in rows:
        groups.setdefault(row[key], []).append(row)
    down = all(isinstance(value, int | float) for value in groups)
    return {str(name): told(groups[name]) for name in sorted(groups, reverse=down)}
