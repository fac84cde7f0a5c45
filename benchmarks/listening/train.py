"""Train the acceptance numbers: `python -m benchmarks.listening.train --count 900`.

Training voices only. Writes `src/sidecue/hearing/data/acceptance.json` with its own report.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

from rich.progress import track

from benchmarks.listening.extract import rows
from benchmarks.listening.fitting import auc, equal_error, fit, threshold
from sidecue.hearing.acceptance import USED, from_json

TARGET = Path("src/sidecue/hearing/data/acceptance.json")
# Tier: (share of the wrong decodes that may pass, the least probability)
ALLOWED = {
    "free": (0.20, 0.40),
    "advance": (0.15, 0.50),
    "guarded": (0.10, 0.60),
    "stop": (0.15, 0.50),
}


def train(data: list[dict[str, Any]]) -> dict[str, Any]:
    """Fit the model on rows of `extract.rows`; a row counts when it decoded to a cue."""
    decoded = [row for row in data if row["cue"] is not None and row["features"]]
    labels = [row["cue"] == row["right"] for row in decoded]
    features = [row["features"] for row in decoded]
    model = fit(features, labels, USED)
    judge = from_json(json.dumps({**model, "thresholds": dict.fromkeys(ALLOWED, 0.5)}))
    scored = [judge.probability(row) for row in features]
    right = [score for score, label in zip(scored, labels, strict=True) if label]
    wrong = [score for score, label in zip(scored, labels, strict=True) if not label]
    limits = {tier: threshold(wrong, share, least) for tier, (share, least) in ALLOWED.items()}
    spoken = [row for row in data if row["right"] is not None]
    return {
        "note": "Trained by benchmarks/listening/train.py on synthetic voices, which flatter.",
        "report": {
            "utterances": len(data),
            "with a cue to hear": len(spoken),
            "decoded right before acceptance": sum(labels),
            "wrong decodes (near-misses, other steps' cues, sentences)": len(wrong),
            "area under the curve": round(auc(right, wrong), 4),
            "equal error rate": round(equal_error(right, wrong), 4),
            "voices": sorted({row["talker"] for row in data}),
            "missed at each threshold": {
                tier: round(sum(score < limit for score in right) / max(1, len(right)), 4)
                for tier, limit in limits.items()
            },
            "wrong decodes accepted at each threshold": {
                tier: round(sum(score >= limit for score in wrong) / max(1, len(wrong)), 4)
                for tier, limit in limits.items()
            },
        },
        **model,
        "thresholds": limits,
    }


def gathered(
    count: int, seed: int, heldout: bool, workers: int, *, compare: bool = False
) -> Iterator[dict[str, Any]]:
    """Rows from several processes, with a progress bar."""
    share = max(1, count // (workers * 4))
    jobs = [(share, seed * 1000 + job, heldout, compare) for job in range(count // share)]
    with ProcessPoolExecutor(workers) as pool:
        results = pool.map(_job, jobs)
        for found in track(results, "listening", total=len(jobs)):
            yield from found


def _job(job: tuple[int, int, bool, bool]) -> list[dict[str, Any]]:
    count, seed, heldout, compare = job
    return list(rows(count, seed, heldout, compare=compare))


def main() -> None:
    """Train and write."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--count", type=int, default=900)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--rows", type=Path, nargs="*", help="rows made before, instead of new ones")
    asked.add_argument("--into", type=Path, default=TARGET)
    options = asked.parse_args()
    if options.rows:
        data = [
            json.loads(line)
            for path in options.rows
            for line in path.read_text("utf-8").splitlines()
        ]
    else:
        data = list(gathered(options.count, options.seed, False, options.workers))
    numbers = train(data)
    options.into.write_text(json.dumps(numbers, indent=2) + "\n", "utf-8")
    print(json.dumps(numbers["report"], indent=2))


if __name__ == "__main__":
    main()
