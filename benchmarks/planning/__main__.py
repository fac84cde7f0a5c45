"""Plan every valid combination of case facts, and say how long a plan takes.

    python -m benchmarks.planning              all of them, some tens of minutes
    python -m benchmarks.planning --every 50   each fiftieth, under a minute

Exit code 1 when a case ended in anything but a plan, a question or a refusal with its reason.
"""

from __future__ import annotations

import argparse
import sys
from itertools import islice
from statistics import median, quantiles

from benchmarks.planning import combinations
from benchmarks.planning.trial import Tally, run
from sidecue.assets import data_folder
from sidecue.procedure.loading import load_library


def main() -> int:
    """Run the trial and print its figures."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.planning")
    parser.add_argument("--every", type=int, default=1, help="take each Nth combination only")
    every = parser.parse_args().every
    library = load_library(data_folder("flows"))
    practice = library.practices["example"]
    whole = Tally()
    for name, entries in (
        ("cavities", combinations.cavities()),
        ("choices", combinations.choices()),
        ("patients", combinations.patients()),
    ):
        before = whole.cases
        run(library, practice, islice(entries, 0, None, every), whole)
        print(f"{name}: {whole.cases - before:,} combinations", flush=True)
    before = whole.cases
    for number, office in enumerate(combinations.offices(practice)):
        run(library, office, islice(combinations.patients(), number, None, 16 * every), whole)
    print(f"patients in sixteen offices, in turn: {whole.cases - before:,} combinations")
    _report(whole)
    return 1 if whole.faults else 0


def _report(whole: Tally) -> None:
    print(f"\nall: {whole.cases / 1000:,.1f} thousand combinations")
    print(f"  planned, ready to start      {whole.planned:>8,}")
    print(f"  planned, with open questions {whole.asked:>8,}")
    print(f"  refused with a reason        {whole.blocked:>8,}")
    print(f"  no procedure fits            {whole.no_procedure:>8,}")
    print(f"  impossible, told why         {whole.impossible:>8,}")
    print(f"  anything else                {len(whole.faults):>8,}")
    if whole.seconds:
        ninety_five = quantiles(whole.seconds, n=20)[-1] if len(whole.seconds) > 1 else 0.0
        print(
            f"\none plan: median {median(whole.seconds) * 1000:.1f} ms of processor time, "
            f"95 of 100 within {ninety_five * 1000:.1f} ms ({len(whole.seconds):,} plans)"
        )
    print("\nreasons, most frequent first:")
    for reason, count in whole.reasons.most_common(40):
        print(f"  {count:>8,}  {reason}")
    for fault in whole.faults[:20]:
        print(f"FAULT {fault}")


if __name__ == "__main__":
    sys.exit(main())
