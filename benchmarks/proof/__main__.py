"""`python -m benchmarks.proof damages|growth [FLOWS]`: the tables of the proof."""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path
from time import process_time

from sidecue.assets import data_folder
from sidecue.procedure.loading import load_library
from sidecue.proof.exploring import explore
from sidecue.session.machine import SessionMachine

from .damages import damages
from .killing import Outcome, planned, tried
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
CASES = ("composite-46-mo",)


def table(outcomes: Iterable[Outcome]) -> str:
    """Return the kill rates by kind, and every damage nobody caught."""
    outcomes = list(outcomes)
    lines = ["# Damaged procedures", "",
             "| kind | damages | loading | laws | comparison | planning | exploration | missed |",
             "|---|---|---|---|---|---|---|---|"]  # fmt: skip
    for kind in sorted({each.damage.kind for each in outcomes}):
        some = [each for each in outcomes if each.damage.kind == kind]
        by = Counter(each.by for each in some)
        row = (
            kind,
            len(some),
            by["loading"],
            by["laws"],
            by["planning"],
            by["exploration"],
            by[""],
        )
        lines.append("| " + " | ".join(str(each) for each in row) + " |")
    for title, some in (
        ("All", outcomes), ("Safety-relevant", [o for o in outcomes if o.damage.relevant]),
    ):  # fmt: skip
        caught = sum(1 for each in some if each.by)
        lines += ["", f"{title}: {caught} of {len(some)} caught ({caught / len(some):.1%})."]
    lines += ["", "Not caught:", ""]
    lines += [
        f"- {each.damage.kind}{' (safety-relevant)' if each.damage.relevant else ''}: "
        f"{each.damage.file}: {each.damage.what}"
        for each in outcomes
        if not each.by
    ]
    return "\n".join(lines) + "\n"


def run_damages(flows: Path) -> str:
    """Try every damage on two processes."""
    reference = load_library(flows)
    every = list(damages(flows, FILES))
    attempt = partial(tried, flows=flows, reference=reference, cases=CASES)
    with ProcessPoolExecutor(max_workers=2) as pool:
        return table(pool.map(attempt, every, chunksize=4))


def run_growth() -> str:
    """Explore made-up procedures of growing length."""
    lines = ["# Growth", "",
             "| steps | states | transitions | machine built, s | explored, s | s per 100 steps |",
             "|---|---|---|---|---|---|"]  # fmt: skip
    prompts = planned(load_library(data_folder("flows")), CASES[0])
    for steps in (10, 30, 100, 300, 1000):
        plan = long_plan(prompts, steps)
        began = process_time()
        SessionMachine(plan)
        built = process_time() - began
        began = process_time()
        found = explore(plan)
        took = process_time() - began
        if not found.sound:
            raise SystemExit(f"{steps} steps: {found.violations[0].broken}")
        lines.append(f"| {steps} | {found.states} | {found.transitions} | {built:.2f} | "
                     f"{took:.1f} | {took / steps * 100:.2f} |")  # fmt: skip
    return "\n".join(lines) + "\n"


def main() -> None:
    """Run one table and keep it under `results/`."""
    what = sys.argv[1] if len(sys.argv) > 1 else "growth"
    flows = Path(sys.argv[2]) if len(sys.argv) > 2 else data_folder("flows")
    text = run_damages(flows) if what == "damages" else run_growth()
    RESULTS.mkdir(exist_ok=True)
    (RESULTS / f"{what}.md").write_text(text, "utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
