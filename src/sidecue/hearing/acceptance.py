"""From what the decoder found to how probable it is that this cue was said.

The numbers of each engine are in `data/acceptance-*.json`, trained by
`python -m benchmarks.listening.train` on its own generated corpus: a logistic model over named
features, and a threshold for each tier.
"""

from __future__ import annotations

import json
import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

from sidecue.procedure.plan import Tier

FEATURES = (
    "worst",  # score of the worst word (thousandths of log likelihood a frame, 0 best)
    "mean",  # frame-weighted mean score of the words
    "worst-margin",  # the worst word's score less that of free speech over the same frames
    "next-margin",  # the same for the second worst word
    "mean-margin",  # the same over all words
    "cue-margin",  # the same over the words after the address
    "worst-phone",  # margin of the worst phone after the address
    "next-phone",  # of the second worst
    "poor-phones",  # share of phones that were hardly said
    "pace",  # frames a phone: distance from the usual, in log
    "phones",  # how much was said: log of the number of phones
    "addressed",  # 1 with the address phrase, 0 without
    "snr",  # loud over quiet frames, dB, at most 40
    "coverage",  # share of the frames that the words cover
)
# The others added nothing: leaving out two training voices at a time, area under the curve 0.889
# with these, 0.885 with all (121 right and 50 wrong decodes, so a hint rather than a proof).
USED = ("cue-margin", "next-phone", "pace", "phones", "addressed", "snr", "coverage")


@dataclass(frozen=True, slots=True)
class Acceptance:
    """A standardised logistic model, and the probability that each tier asks for.

    Between `no` and `sure` a second look at the sound is worth its time.
    """

    bias: float
    weights: Mapping[str, float]
    means: Mapping[str, float]
    scales: Mapping[str, float]
    thresholds: Mapping[Tier, float]
    no: float = 0.02
    sure: float = 0.95

    def probability(self, features: Mapping[str, float]) -> float:
        """Return 0 to 1. Raises KeyError for a missing feature."""
        total = self.bias
        for name, weight in self.weights.items():
            total += weight * (features[name] - self.means[name]) / self.scales[name]
        return 1 / (1 + math.exp(-max(-40.0, min(40.0, total))))

    def accepts(self, probability: float, tier: Tier) -> bool:
        """True when `probability` reaches the tier's threshold."""
        return probability >= self.thresholds[tier]

    def in_doubt(self, probability: float) -> bool:
        """True when a second look is worth its time."""
        return self.no < probability < self.sure


def from_json(text: str, known: Collection[str] = FEATURES) -> Acceptance:
    """Read the numbers. Raises ValueError naming what is missing, or is not a `known` feature."""
    raw = json.loads(text)
    try:
        weights = {name: float(value) for name, value in raw["weights"].items()}
        unknown = sorted(set(weights) - set(known))
        if unknown:
            raise ValueError(f"acceptance numbers name unknown features: {', '.join(unknown)}")
        return Acceptance(
            bias=float(raw["bias"]),
            weights=weights,
            means={name: float(raw["means"][name]) for name in weights},
            scales={name: float(raw["scales"][name]) for name in weights},
            thresholds={tier: float(raw["thresholds"][tier.value]) for tier in Tier},
        )
    except KeyError as fault:
        raise ValueError(f"acceptance numbers lack {fault}; train them again") from fault


@cache
def shipped(engine: str = "words", known: Collection[str] = FEATURES) -> Acceptance:
    """The numbers that come with the package: of the engine by `words`, or by `phones`."""
    path = files("sidecue.hearing").joinpath(f"data/acceptance-{engine}.json")
    return from_json(path.read_text("utf-8"), known)
