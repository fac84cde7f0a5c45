"""From rows to the figures of the report."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from typing import Any

import numpy as np

from benchmarks.listening.fitting import auc, equal_error, interval
from sidecue.hearing.acceptance import Acceptance
from sidecue.hearing.sphinx import DISAGREEING
from sidecue.procedure.plan import Tier

Row = dict[str, Any]
Decision = Callable[[Row], str | None]


def decide(model: Acceptance, row: Row) -> tuple[str | None, float]:
    """What the recogniser would do with a row: cue or None, and the probability."""
    if row["cue"] is None:
        return None, 0.0
    score = model.probability(row["features"]) if row["features"] else row["score"]
    if row.get("agreed") is False and row.get("other"):
        score *= DISAGREEING
    return (row["cue"] if model.accepts(score, Tier(row["tier"])) else None), score


def tally(rows: Iterable[Row], decision: Decision) -> dict[str, Any]:
    """Right, wrong and missed among spoken cues; accepted among everything else; by share."""
    spoken = right = wrong = other = taken = 0
    for row in rows:
        heard = decision(row)
        if row["right"] is None:
            other += 1
            taken += heard is not None
        else:
            spoken += 1
            right += heard == row["right"]
            wrong += heard not in (None, row["right"])
    return {
        "spoken": spoken,
        "right": _share(right, spoken),
        "wrong": _share(wrong, spoken),
        "missed": _share(spoken - right - wrong, spoken),
        "other": other,
        "accepted": _share(taken, other),
    }


def _share(count: int, of: int) -> dict[str, float]:
    low, high = interval(count, of)
    return {
        "count": count,
        "percent": round(100 * count / of, 2) if of else 0.0,
        "low": round(100 * low, 2),
        "high": round(100 * high, 2),
    }


def by(rows: Sequence[Row], key: str, decision: Decision) -> dict[str, Any]:
    """`tally` for each value of a column."""
    groups: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        groups[str(row[key])].append(row)
    return {name: tally(group, decision) for name, group in sorted(groups.items())}


def figures(rows: Sequence[Row], model: Acceptance) -> dict[str, Any]:
    """All figures of a run."""

    def ours(row: Row) -> str | None:
        return decide(model, row)[0]

    scored = [(decide(model, row)[1], row["cue"] == row["right"]) for row in rows if row["cue"]]
    right = [score for score, good in scored if good]
    wrong = [score for score, good in scored if not good]
    pace = [row["took"] / row["seconds"] for row in rows if row.get("seconds")]
    found: dict[str, Any] = {
        "all": tally(rows, ours),
        "by SNR": by(rows, "snr", ours),
        "by noise": by(rows, "noise", ours),
        "by kind": by(rows, "kind", ours),
        "by talker": by(rows, "talker", ours),
        "acceptance": {
            "area under the curve": round(auc(right, wrong), 4),
            "equal error rate": round(equal_error(right, wrong), 4),
        },
        "curve": sorted([round(score, 4), bool(good)] for score, good in scored),
    }
    if pace:
        found["processor seconds a second of sound"] = {
            "median": round(float(np.median(pace)), 3),
            "p95": round(float(np.percentile(pace, 95)), 3),
        }
    if rows and "stock" in rows[0]:
        found["stock decoder"] = {
            "all": tally(rows, lambda row: row["stock"]),
            "by SNR": by(rows, "snr", lambda row: row["stock"]),
        }
    return found
