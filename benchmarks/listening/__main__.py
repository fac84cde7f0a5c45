"""`python -m benchmarks.listening [--quick]`: the listening bench on held-out voices."""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
from pathlib import Path

from benchmarks.listening import reporting
from benchmarks.listening.scoring import figures
from benchmarks.listening.train import gathered
from benchmarks.listening.voices import missing_programs
from sidecue.hearing import acceptance


def main() -> int:
    """Run and write JSON, pictures and report; 2 when a synthesiser is missing."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--quick", action="store_true", help="200 utterances instead of 3000")
    asked.add_argument("--count", type=int)
    asked.add_argument("--seed", type=int, default=20)
    asked.add_argument("--workers", type=int, default=2)
    asked.add_argument("--rows", type=Path, nargs="*", help="rows made before, instead of new ones")
    asked.add_argument("--into", type=Path, default=Path("benchmarks/listening/results"))
    options = asked.parse_args()
    if options.rows:
        lines = [line for path in options.rows for line in path.read_text("utf-8").splitlines()]
        rows = [json.loads(line) for line in lines]
    elif missing := missing_programs():
        print(f"the bench needs {' and '.join(missing)}: install them", file=sys.stderr)
        return 2
    else:
        count = options.count or (200 if options.quick else 3000)
        rows = list(gathered(count, options.seed, True, options.workers, compare=True))
    found = figures(rows, acceptance.shipped())
    options.into.mkdir(parents=True, exist_ok=True)
    machine = f"{platform.machine()}, {os.cpu_count()} cores, Python {platform.python_version()}"
    found["run"] = {"seed": options.seed, "utterances": len(rows), "machine": machine}
    text = json.dumps(found, indent=1)
    (options.into / "figures.json").write_text(text + "\n", "utf-8")
    reporting.write(found, options.into, machine)
    print((options.into / "report.md").read_text("utf-8"))
    return 0


if __name__ == "__main__":
    sys.exit(main())
