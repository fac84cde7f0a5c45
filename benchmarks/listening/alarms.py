"""`python -m benchmarks.listening.alarms --hours 3`: how near talk comes to an alarm.

What set the threshold of the alarm tier (see `train.ALLOWED`): hours of babble and of conversation
in the training voices, the alarms that were read in them, and how many of those would be raised
at each threshold. Nobody speaks to the tool in it: each one is false.
"""

from __future__ import annotations

import argparse
import json
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass

from rich.progress import track

from benchmarks.listening.open_microphone import MINUTES, Company, piece
from benchmarks.listening.rooms import recogniser
from benchmarks.listening.streams import blocks_of
from benchmarks.listening.through_ears import listen
from benchmarks.listening.voices import TRAINING
from benchmarks.phones.corpus import training_crowd
from sidecue.procedure.plan import Tier

KINDS = ("babble", "conversation")
LIMITS = (0.40, 0.45, 0.50, 0.55, 0.60, 0.65, 0.70, 0.75, 0.80, 0.90)
TALKERS = tuple(talker for talker in TRAINING if talker.engine != "pico")


@dataclass(frozen=True)
class Near:
    """An alarm that was read in talk."""

    kind: str
    phrase: str
    score: float


def heard(kind: str, number: int, seed: int) -> list[Near]:
    """What was read as an alarm in a tenth of an hour of `kind`, sure enough or not."""
    moments, samples = piece(kind, number, seed, Company(TALKERS, training_crowd))
    found = listen(
        recogniser(),
        lambda at: moments[min(MINUTES - 1, int(at // 60))].vocabulary,
        blocks_of(samples),
    )
    return [
        Near(kind, noticed.hearing.phrase, round(noticed.hearing.score, 3))
        for noticed in found.noticed
        if noticed.hearing.tier is Tier.ALARM
    ]


def _job(job: tuple[str, int, int]) -> list[Near]:
    return heard(*job)


def main() -> None:
    """Listen, and print a line for each threshold and for each alarm."""
    asked = argparse.ArgumentParser(
        prog="python -m benchmarks.listening.alarms", description=__doc__
    )
    asked.add_argument("--hours", type=float, default=3.0, help="of each kind of talk")
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--jobs", type=int, default=2, help="processes at once")
    options = asked.parse_args()
    count = round(options.hours * 60 / MINUTES)
    jobs = [(kind, number, options.seed) for number in range(count) for kind in KINDS]
    near: list[Near] = []
    with ProcessPoolExecutor(options.jobs) as pool:
        for found in track(pool.map(_job, jobs), "listening", total=len(jobs)):
            near += found
    for kind in KINDS:
        scores = sorted((each.score for each in near if each.kind == kind), reverse=True)
        at = {limit: sum(score >= limit for score in scores) for limit in LIMITS}
        print(json.dumps({"kind": kind, "hours": options.hours, "raised at": at}))
    for each in sorted(near, key=lambda each: -each.score):
        print(json.dumps({"kind": each.kind, "phrase": each.phrase, "score": each.score}))


if __name__ == "__main__":
    main()
