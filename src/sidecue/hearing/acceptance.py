"""From what the decoder found to how probable it is that this cue was said.

The numbers are in `data/acceptance.json`, trained by `python -m benchmarks.listening.train` on
its own generated corpus: two logistic models over named features (after one decode, and after a
second one of another denoise mix), and a threshold for each tier.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from sidecue.procedure.plan import Tier

FIRST = (
    "worst",  # score of the worst word (thousandths of log likelihood a frame, 0 best)
    "mean",  # frame-weighted mean score of the words
    "worst-margin",  # the worst word's score less that of free speech over the same frames
    "next-margin",  # the same for the second worst word
    "mean-margin",  # the same over all words
    "cue-margin",  # the same over the words after the address
    "pace",  # frames a phone: distance from the usual, in log
    "phones",  # how much was said: log of the number of phones
    "addressed",  # 1 with the address phrase, 0 without
    "snr",  # loud over quiet frames, dB, at most 40
    "coverage",  # share of the frames that the words cover
)
SECOND = (
    *FIRST,
    "agreement",  # 1 when the second decode found the same words
    "other-margin",  # mean margin of the second decode
    "other-worst",  # worst margin of the second decode
)


@dataclass(frozen=True, slots=True)
class Logistic:
    """A standardised logistic model."""

    bias: float
    weights: Mapping[str, float]
    means: Mapping[str, float]
    scales: Mapping[str, float]

    def probability(self, features: Mapping[str, float]) -> float:
        """Return 0 to 1. Raises KeyError for a missing feature."""
        total = self.bias
        for name, weight in self.weights.items():
            total += weight * (features[name] - self.means[name]) / self.scales[name]
        return 1 / (1 + math.exp(-max(-40.0, min(40.0, total))))


@dataclass(frozen=True, slots=True)
class Acceptance:
    """Both models, and the probability each tier asks for.

    Between `no` and `sure` the first model does not decide, and a second decode is made.
    """

    first: Logistic
    second: Logistic
    thresholds: Mapping[Tier, float]
    no: float = 0.02
    sure: float = 0.99

    def accepts(self, probability: float, tier: Tier) -> bool:
        """True when `probability` reaches the tier's threshold."""
        return probability >= self.thresholds[tier]

    def in_doubt(self, probability: float) -> bool:
        """True when a second decode is worth its time."""
        return self.no < probability < self.sure


def from_json(text: str) -> Acceptance:
    """Read the numbers. Raises ValueError naming what is missing or unknown."""
    raw = json.loads(text)
    try:
        return Acceptance(
            first=_logistic(raw["first"], FIRST),
            second=_logistic(raw["second"], SECOND),
            thresholds={tier: float(raw["thresholds"][tier.value]) for tier in Tier},
        )
    except KeyError as fault:
        raise ValueError(f"acceptance numbers lack {fault}; train them again") from fault


def _logistic(raw: Mapping[str, Any], features: tuple[str, ...]) -> Logistic:
    unknown = sorted(set(raw["weights"]) - set(features))
    if unknown:
        raise ValueError(f"acceptance numbers name unknown features: {', '.join(unknown)}")
    weights = {name: float(value) for name, value in raw["weights"].items()}
    return Logistic(
        bias=float(raw["bias"]),
        weights=weights,
        means={name: float(raw["means"][name]) for name in weights},
        scales={name: float(raw["scales"][name]) for name in weights},
    )


@cache
def shipped() -> Acceptance:
    """The numbers that come with the package."""
    return from_json(files("sidecue.hearing").joinpath("data/acceptance.json").read_text("utf-8"))
