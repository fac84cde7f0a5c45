"""`python -m benchmarks.exchange [SEQUENCES]`: random visits, our machine and an independent SCXML
interpreter side by side; the table goes to results/side_by_side.md.

Sequence number n is of the shipped case n modulo their number, seeded with n. Exit code 1 when
the two ever hold different things.
"""

from __future__ import annotations

import platform
import sys
from collections import Counter
from importlib.metadata import version
from pathlib import Path
from time import process_time

from sidecue.cli.setting import DEFAULT_PRACTICE, planned, practice_setting
from sidecue.exchange.scxml import scxml
from sidecue.procedure.plan import Plan

from .side_by_side import Disagreement, SideBySide

RESULTS = Path(__file__).parent / "results"


def shipped() -> dict[str, Plan]:
    """Return the plan of every shipped case, in the example practice."""
    library, office = practice_setting(DEFAULT_PRACTICE)
    return {case: planned(library, office, case).plan for case in sorted(library.cases)}


def main(sequences: int) -> int:
    """Drive so many sequences and write the table. Return the exit code."""
    began = process_time()
    rows, happened, events = [], Counter[str](), 0
    parted: list[tuple[str, int, Disagreement]] = []
    plans = shipped()
    for place, (case, plan) in enumerate(plans.items()):
        pair = SideBySide(plan)
        seeds = range(place, sequences, len(plans))
        for seed in seeds:
            found = pair.run(seed)
            if found is not None:
                parted.append((case, seed, found))
        happened.update(pair.happened)
        events += pair.events
        wrong = sum(each[0] == case for each in parted)
        text = scxml(plan)
        rows.append(
            f"| {case} | {len(plan.steps)} | {len(text) // 1000} | {len(seeds)} | {pair.events}"
            f" | {pair.happened['finished']} | {wrong} |"
        )
        print(rows[-1], flush=True)
    lines = [
        "# Our machine and the exported state chart, side by side",
        "",
        f"{sequences} random sequences, {events} events, {len(parted)} disagreements;"
        f" python-statemachine {version('python-statemachine')},"
        f" Python {platform.python_version()}, two x86-64 cores,"
        f" {process_time() - began:.0f} s of one core. After every event these are compared: mode,"
        " place, facts, every running timer (step, start, least time, what it has announced), the"
        " open question and when it lapses, emergency, values, entries, steps done, steps left out"
        " with their reasons, how many acts can be undone, whether a physical fact stands, clock.",
        "",
        "| case | steps | document, kB | sequences | events | visits finished | disagreements |",
        "|---|---|---|---|---|---|---|",
        *rows,
        "",
        "What happened, in how many events:",
        "",
        *(f"- {name}: {count}" for name, count in sorted(happened.items())),
        "",
        *(_told(case, seed, each) for case, seed, each in parted),
    ]
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / "side_by_side.md").write_text("\n".join(lines).rstrip() + "\n", encoding="utf-8")
    return 1 if parted else 0


def _told(case: str, seed: int, found: Disagreement) -> str:
    fields = "; ".join(f"{name}: ours {ours}, theirs {its}" for name, ours, its in found.fields)
    return f"- {case}, seed {seed}, event {found.number} ({found.event}): {fields}"


if __name__ == "__main__":
    raise SystemExit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
