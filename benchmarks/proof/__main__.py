"""The tables of the proof: damaged procedures, growth, and that the fast way agrees with the plain
one."""

from __future__ import annotations

import json
import sys
from argparse import ArgumentParser
from collections import Counter
from collections.abc import Callable, Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from random import Random
from time import process_time

from sidecue.assets import data_folder
from sidecue.procedure.loading import load_library
from sidecue.proof.proving import proven

from .agreeing import agreement
from .damages import Damage, damages
from .killing import Outcome, Trial, planned
from .synthetic import long_plan

RESULTS = Path(__file__).parent / "results"
FILES = (
    "parts/opening.yaml",
    "parts/anaesthesia.yaml",
    "parts/rubber-dam-placement.yaml",
    "parts/cavity.yaml",
    "parts/matrix-sectional.yaml",
    "parts/adhesive.yaml",
    "parts/flowable.yaml",
    "parts/increments.yaml",
    "parts/matrix-removal-sectional.yaml",
    "parts/cure-sides.yaml",
    "parts/rubber-dam-removal.yaml",
    "parts/closing.yaml",
)
#: Who can catch a damage, in the order in which they look.
BY = ("loading", "laws", "comparison", "planning", "exploration")


def table(outcomes: Iterable[Outcome]) -> str:
    """Return the kill rates by kind, every damage nobody caught, and those that change nothing."""
    outcomes = list(outcomes)
    lines = ["# Damaged procedures", "", "*alike*: no difference in anything that can happen in a "
             "visit, told by walking it beside the sound one (`benchmarks/proof/likeness.py`).", "",
             f"| kind | damages | {' | '.join(BY)} | alike | missed |",
             f"|---|---|{'---|' * len(BY)}---|---|"]  # fmt: skip
    for kind in sorted({each.damage.kind for each in outcomes}):
        some = [each for each in outcomes if each.damage.kind == kind]
        by = Counter(each.by for each in some)
        alike = sum(each.alike for each in some)
        row = (kind, len(some), *(by[name] for name in BY), alike, by[""] - alike)
        lines.append("| " + " | ".join(str(each) for each in row) + " |")
    for title, some in (
        ("All", outcomes), ("Safety-relevant", [o for o in outcomes if o.damage.relevant]),
    ):  # fmt: skip
        caught = sum(1 for each in some if each.by)
        unlike = sum(1 for each in some if not each.alike)
        rate, alike = caught / max(unlike, 1), len(some) - unlike
        lines += ["", f"{title}: {caught} of {unlike} that change anything caught ({rate:.1%}); "
                  f"{alike} change nothing."]  # fmt: skip
    for title, some in (
        ("Not caught", [each for each in outcomes if not each.by and not each.alike]),
        ("Alike", [each for each in outcomes if each.alike]),
    ):
        lines += ["", f"{title}:", ""]
        lines += [
            f"- {each.damage.kind}{' (safety-relevant)' if each.damage.relevant else ''}: "
            f"{each.damage.file}: {each.damage.what}{f' ({each.why})' if each.why else ''}"
            for each in some
        ]
    return "\n".join(lines) + "\n"


def told(outcome: Outcome) -> dict[str, object]:
    """Return one outcome for a JSON file."""
    damage = outcome.damage
    return {
        "kind": damage.kind, "file": damage.file, "what": damage.what,
        "safety-relevant": damage.relevant, "by": outcome.by or None, "why": outcome.why,
        "alike": outcome.alike,
    }  # fmt: skip


def run_damages(flows: Path, processes: int, most: int | None, resume: bool) -> str:
    """Try every damage, or a random `most` of them (always the same). With `resume`, those that
    were caught before are not tried again."""
    every = list(damages(flows, FILES))
    Random(1).shuffle(every)
    before = caught_before() if resume else {}
    outcomes = [before[key_of(each)](each) for each in every[:most] if key_of(each) in before]
    left = [each for each in every[:most] if key_of(each) not in before]
    with ProcessPoolExecutor(processes, initializer=_begin, initargs=(flows,)) as pool:
        for outcome in pool.map(_tried, left):
            outcomes.append(outcome)
            sys.stderr.write(f"\r{len(outcomes)} of {len(every[:most])}")
            keep("damages", [told(each) for each in outcomes], table(outcomes))
    sys.stderr.write("\n")
    return table(outcomes)


#: What a worker process tries damages with.
_HERE: dict[str, Trial] = {}


def _begin(flows: Path) -> None:
    _HERE["trial"] = Trial(flows)


def _tried(damage: Damage) -> Outcome:
    return _HERE["trial"].tried(damage)


def key_of(damage: Damage) -> tuple[str, str, str]:
    """Return what tells a damage from others."""
    return damage.kind, damage.file, damage.what


def caught_before() -> dict[tuple[str, str, str], Callable[[Damage], Outcome]]:
    """Return the outcomes of the kept results that caught something, still to be given their
    damage."""
    rows = json.loads((RESULTS / "damages.json").read_text("utf-8"))
    return {
        (row["kind"], row["file"], row["what"]): partial(Outcome, by=row["by"], why=row["why"])
        for row in rows
        if row["by"]
    }


def keep(name: str, data: object, text: str) -> None:
    """Keep results as data and as a table."""
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / f"{name}.json").write_text(
        json.dumps(data, indent=1, ensure_ascii=False) + "\n", "utf-8"
    )
    (RESULTS / f"{name}.md").write_text(text, "utf-8")


def run_growth() -> str:
    """Explore made-up procedures of growing length."""
    lines = ["# Growth", "", "Seconds of one processor.", "",
             "| steps | states | transitions | tried | seconds | seconds for 100 steps |",
             "|---|---|---|---|---|---|"]  # fmt: skip
    rows = []
    model = planned(load_library(data_folder("flows")), "composite-46-mo")
    for steps in (10, 30, 100, 300, 1000):
        plan = long_plan(model, steps)
        began = process_time()
        found = proven(plan, plan.rules)
        took = process_time() - began
        if not found.sound:
            raise SystemExit(f"{steps} steps: {found.violations[0].broken}")
        rows.append({"steps": steps, "states": found.states, "transitions": found.transitions,
                     "tried": found.tried, "seconds": round(took, 2)})  # fmt: skip
        lines.append(f"| {steps} | {found.states} | {found.transitions} | {found.tried} | "
                     f"{took:.1f} | {took / steps * 100:.2f} |")  # fmt: skip
    text = "\n".join(lines) + "\n"
    keep("growth", rows, text)
    return text


def main() -> None:
    """Run one table and keep it under `results/`."""
    parser = ArgumentParser(prog="python -m benchmarks.proof", description=__doc__)
    parser.add_argument("what", choices=("damages", "growth", "agreement"))
    parser.add_argument("--flows", type=Path, default=data_folder("flows"))
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--most", type=int, help="so many damages, chosen at random")
    parser.add_argument("--resume", action="store_true", help="keep what was caught before")
    asked = parser.parse_args()
    if asked.what == "damages":
        text = run_damages(asked.flows, asked.processes, asked.most, asked.resume)
    elif asked.what == "growth":
        text = run_growth()
    else:
        rows, text = agreement()
        keep("agreement", rows, text)
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
