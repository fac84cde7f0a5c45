"""`python -m benchmarks.listening [--quick]`: how well the product hears, on held-out voices.

Makes its corpus on the fly from the seed, plays it to the product's own ears, and writes
figures.json, pictures and report.md. A run broken off is taken up again with --resume.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from benchmarks.figures import machine_name
from benchmarks.listening import footprint, pictures, reporting, running, whisper
from benchmarks.listening.echo import can_echo
from benchmarks.listening.summary import figures
from benchmarks.listening.voices import missing_programs

RESULTS = Path(__file__).with_name("results")
WORK = Path("build/listening")


def options(arguments: list[str] | None = None) -> argparse.Namespace:
    """Read the command line."""
    asked = argparse.ArgumentParser(prog="python -m benchmarks.listening", description=__doc__)
    asked.add_argument("--quick", action="store_true", help="a taste, in about two minutes")
    asked.add_argument("--seed", type=int, default=20)
    asked.add_argument("--jobs", type=int, default=2, help="processes at once")
    asked.add_argument("--rounds", type=float, default=4.0, help="times through the corpus's grid")
    asked.add_argument("--hours", type=float, default=0.5, help="of babble, and of conversation")
    asked.add_argument("--non-speech", type=float, help="hours of it; as many when not given")
    asked.add_argument("--minutes", type=float, help="begin nothing new after so many")
    asked.add_argument("--part", choices=running.PARTS, action="append", help="only this part")
    asked.add_argument("--resume", action="store_true", help="keep what was heard before")
    asked.add_argument("--report-only", action="store_true", help="of what was heard before")
    asked.add_argument("--into", type=Path, default=RESULTS, help="folder for the report")
    asked.add_argument("--work", type=Path, default=WORK, help="folder for the pieces")
    return asked.parse_args(arguments)


def main() -> int:
    """Run and report; 2 when a synthesiser is missing or there is nothing to report."""
    asked = options()
    if lacking := missing_programs():
        print(f"the bench needs {' and '.join(lacking)}: install them", file=sys.stderr)
        return 2
    left_out = [] if can_echo() else ["room echo (pyroomacoustics is not installed)"]
    left_out += [f"tiny.en ({reason})"] if (reason := whisper.missing()) else []
    for reason in left_out:
        print(f"left out: {reason}", file=sys.stderr)
    ears = running.digest()
    folder = asked.work / f"{asked.seed}-{ears}"
    speech = 0.0 if asked.quick else asked.hours
    silent = 0.0 if asked.quick else asked.hours if asked.non_speech is None else asked.non_speech
    hours = {"babble": speech, "conversation": speech, "non-speech": silent}
    parts = asked.part or running.PARTS
    wanted = running.pieces(parts, 0.34 if asked.quick else asked.rounds, hours)
    if not asked.report_only:
        for file in [] if asked.resume else [folder / piece.file for piece in wanted]:
            file.unlink(missing_ok=True)
        if not running.run(wanted, asked.seed, folder, asked.jobs, asked.minutes):
            print("time is up; take the run up again with --resume", file=sys.stderr)
    rows = list(running.kept(folder))
    if not any(row["part"] == "rooms" for row in rows):
        print(f"{folder}: nothing was heard of the corpus yet; run without --part", file=sys.stderr)
        return 2
    found = figures(rows)
    found["footprint"] = _footprint(0.5 if asked.quick else 30)
    found["run"] = {
        "seed": asked.seed,
        "ears": ears,
        "commit": _commit(),
        "date": datetime.now(UTC).date().isoformat(),
        "machine": machine_name(),
        "left out": left_out,
    }
    asked.into.mkdir(parents=True, exist_ok=True)
    (asked.into / "figures.json").write_text(compact(found) + "\n", "utf-8")
    pictures.draw(found, asked.into)
    report = reporting.page(found)
    (asked.into / "report.md").write_text(report, "utf-8")
    print(report)
    return 0


def _footprint(minutes: float) -> dict[str, Any]:
    command = [sys.executable, "-m", footprint.__name__, str(minutes)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, Any] = json.loads(done.stdout.splitlines()[-1])
    return found


def compact(found: dict[str, Any]) -> str:
    """JSON of one line for each part of a figure: readable, and short in a comparison."""
    lines = []
    for key, value in found.items():
        if isinstance(value, dict):
            inner = [f"  {json.dumps(name)}: {json.dumps(part)}" for name, part in value.items()]
            told = "{\n" + ",\n".join(inner) + "\n }"
        else:
            told = json.dumps(value)
        lines.append(f" {json.dumps(key)}: {told}")
    return "{\n" + ",\n".join(lines) + "\n}"


def _commit() -> str:
    try:
        said = subprocess.run(
            ["git", "describe", "--always", "--dirty"], capture_output=True, text=True, check=True
        )
    except (OSError, subprocess.CalledProcessError):
        return "unknown"
    return said.stdout.strip()


if __name__ == "__main__":
    sys.exit(main())
