"""Fit a logistic model by Newton's method, and choose thresholds. numpy only."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]


def fit(
    rows: Sequence[dict[str, float]],
    labels: Sequence[bool],
    names: Sequence[str],
    ridge: float = 3.0,
) -> dict[str, Any]:
    """Return bias, weights, means and scales of a ridge-penalised logistic model."""
    x = np.array([[row[name] for name in names] for row in rows])
    y = np.array(labels, dtype=float)
    means, scales = x.mean(axis=0), x.std(axis=0) + 1e-6
    z = np.hstack([(x - means) / scales, np.ones((len(x), 1))])
    penalty = np.diag([ridge] * len(names) + [1e-6])
    beta = np.zeros(z.shape[1])
    for _ in range(40):
        p = 1 / (1 + np.exp(-np.clip(z @ beta, -30, 30)))
        slope = z.T @ (y - p) - penalty @ beta
        bend = (z * (p * (1 - p))[:, None]).T @ z + penalty
        step = np.linalg.solve(bend, slope)
        beta += step
        if np.abs(step).max() < 1e-8:
            break
    return {
        "bias": round(float(beta[-1]), 4),
        "weights": dict(zip(names, np.round(beta[:-1], 4).tolist(), strict=True)),
        "means": dict(zip(names, np.round(means, 4).tolist(), strict=True)),
        "scales": dict(zip(names, np.round(scales, 4).tolist(), strict=True)),
    }


def auc(right: Sequence[float], wrong: Sequence[float]) -> float:
    """How often a right one scores above a wrong one."""
    good, bad = np.array(right)[:, None], np.array(wrong)[None]
    return float((good > bad).mean() + 0.5 * (good == bad).mean()) if good.size and bad.size else 0


def equal_error(right: Sequence[float], wrong: Sequence[float]) -> float:
    """The rate at which misses and false acceptances are equal."""
    good, bad = np.sort(right), np.sort(wrong)
    best = 1.0
    for limit in np.concatenate([good, bad]):
        missed = float(np.searchsorted(good, limit) / max(1, len(good)))
        taken = 1 - float(np.searchsorted(bad, limit) / max(1, len(bad)))
        best = min(best, max(missed, taken))
    return best


def threshold(wrong: Sequence[float], share: float, least: float) -> float:
    """The lowest probability, at least `least`, that no more than `share` of the wrong reach."""
    if not wrong:
        return least
    ordered = np.sort(np.array(wrong))[::-1]
    allowed = min(int(share * len(ordered)), len(ordered) - 1)
    return round(min(0.98, max(least, float(ordered[allowed]) + 1e-3)), 3)


def interval(count: int, of: int) -> tuple[float, float]:
    """Wilson 95 % interval of a share."""
    if of == 0:
        return 0.0, 1.0
    share, z = count / of, 1.96
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z * np.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return max(0.0, middle - half), min(1.0, middle + half)
