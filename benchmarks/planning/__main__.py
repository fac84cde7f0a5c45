"""Plan every valid combination of case facts, and say how long a plan takes.

    python -m benchmarks.planning                 all of them, in two processes
    python -m benchmarks.planning --every 50      each fiftieth, under a minute
    python -m benchmarks.planning --into FOLDER   also write figures.json and report.md there

Exit code 1 when a case ended in anything but a plan, a question or a refusal with its reason, or
when some decision of planning reads facts that no group of combinations crosses whole.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from datetime import date
from itertools import islice
from pathlib import Path
from statistics import median, quantiles

from benchmarks.planning import combinations
from benchmarks.planning.independence import GROUPS, Decision, decisions, walked
from benchmarks.planning.trial import Tally, run
from sidecue.assets import data_folder
from sidecue.procedure.loading import load_library

_TOLD = 25  # reasons in the report


def main() -> int:
    """Run the trial, print its report, and write it where asked."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.planning")
    parser.add_argument("--every", type=int, default=1, help="take each Nth combination only")
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--into", type=Path, help="write figures.json and report.md here")
    asked = parser.parse_args()
    library = load_library(data_folder("flows"))
    read = decisions(library, library.practices["example"])
    uncovered = [decision for decision in read if decision.group is None]
    began = time.monotonic()
    whole, groups = Tally(), {}
    with ProcessPoolExecutor(asked.processes) as pool:
        for name in GROUPS:
            parts = [
                pool.submit(part, name, number * asked.every, asked.processes * asked.every)
                for number in range(asked.processes)
            ]
            before = whole.cases
            for each in parts:
                whole.add(each.result())
            groups[name] = whole.cases - before
            print(f"{name}: {groups[name]:,} combinations", file=sys.stderr, flush=True)
    figures = _figures(whole, groups, time.monotonic() - began, asked.every)
    figures |= {"decisions": len(read), "walked at loading": dict(walked(library))}
    text = "\n".join(_report(figures, whole, uncovered))
    print(text)
    if asked.into is not None:
        asked.into.mkdir(parents=True, exist_ok=True)
        (asked.into / "figures.json").write_text(json.dumps(figures, indent=2) + "\n")
        (asked.into / "report.md").write_text(text + "\n")
    return 1 if whole.faults or uncovered else 0


def part(group: str, first: int, every: int) -> Tally:
    """Plan each `every`-th combination of `group` from number `first` on."""
    library = load_library(data_folder("flows"))
    tally = Tally()
    chosen = islice(getattr(combinations, group)(), first, None, every)
    run(library, library.practices["example"], chosen, tally)
    return tally


def _figures(whole: Tally, groups: dict[str, int], seconds: float, every: int) -> dict[str, object]:
    ms = [each * 1000 for each in whole.seconds]
    return {
        "date": date.today().isoformat(),
        "machine": f"{platform.machine()}, {os.cpu_count()} cores, {platform.system()}, "
        f"Python {platform.python_version()}",
        "every": every,
        "combinations": whole.cases,
        "groups": groups,
        "planned, ready to start": whole.planned,
        "planned, with open questions": whole.asked,
        "refused with a reason": whole.blocked,
        "no procedure fits, told so": whole.no_procedure,
        "impossible, told why": whole.impossible,
        "anything else": len(whole.faults),
        "plans": len(ms),
        "median plan (ms of processor time)": round(median(ms), 2) if ms else None,
        "95 of 100 plans within (ms)": round(quantiles(ms, n=20)[-1], 2) if len(ms) > 1 else None,
        "whole run (min)": round(seconds / 60, 1),
    }


def _report(figures: dict[str, object], whole: Tally, uncovered: list[Decision]) -> list[str]:
    told = [f"- {name}: {value}" for name, value in figures.items() if not isinstance(value, dict)]
    groups = figures["groups"]
    assert isinstance(groups, dict)
    return [
        "# Every valid combination of case facts, planned",
        "",
        f"**{whole.cases / 1000:,.1f} thousand combinations**, "
        f"{len(whole.faults)} ended in anything but a plan, a question or a refusal with its "
        "reason.",
        "",
        *told,
        *(f"- group {name}: {count:,}" for name, count in groups.items()),
        "",
        "The full product would be beyond counting. It is enough that every decision of planning "
        "sees every combination of the facts it reads, which is checked against the files "
        f"(`benchmarks/planning/independence.py`): {figures['decisions']} decisions, "
        f"{len(uncovered)} of them crossed whole by no group. Needs and interlocks reach from step "
        "to step; they are walked for the whole product of every visit when the library is loaded.",
        "",
        "Refusals and questions, most frequent first:",
        "",
        *(f"- {count:,} x {reason}" for reason, count in whole.reasons.most_common(_TOLD)),
        *(f"- UNCOVERED {each.where}: {sorted(each.reads)}" for each in uncovered[:20]),
        *(f"- FAULT {fault}" for fault in whole.faults[:20]),
    ]


if __name__ == "__main__":
    sys.exit(main())
