"""Run the checks that compare a clinical value with something outside, and count what passes.

    python -m benchmarks.outside                 one line a topic, and the counts
    python -m benchmarks.outside --list          each check with its source too
    python -m benchmarks.outside --into FOLDER   also write report.md there

`values.yaml` names the tests and who says so. A row of a table counts once, however often it is
named, and only when its test ran and passed. Exit code 1 when one did not, or when an oracle or a
worked dose has no test.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

import pytest

from benchmarks.outside.counting import Named, named, report

VALUES = Path(__file__).with_name("values.yaml")
TESTS = Path(__file__).parents[2] / "tests"


class Outcomes:
    """What became of every test that was asked for: pytest calls the hook below."""

    def __init__(self) -> None:
        self.passed: dict[str, bool] = {}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep the outcome; a test that is skipped has not passed."""
        name = report.nodeid.removeprefix("tests/")
        if report.when == "call" or report.failed or report.skipped:
            self.passed[name] = self.passed.get(name, True) and report.passed


def run_tests(entries: tuple[Named, ...]) -> dict[str, bool]:
    """Return every test that ran, by its name under tests/, and whether it passed."""
    asked = dict.fromkeys(test for entry in entries for test in entry.tests)
    outcomes = Outcomes()
    options = ["-o", "addopts=--hypothesis-profile=ci", "-p", "no:cacheprovider", "-q", "-q"]
    pytest.main([*options, *(f"{TESTS / test}" for test in asked)], plugins=[outcomes])
    return outcomes.passed


def main() -> int:
    """Run the checks, print the report, and write it where asked."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.outside")
    parser.add_argument("--list", action="store_true", help="each check with its source")
    parser.add_argument("--into", type=Path, help="write report.md here")
    asked = parser.parse_args()
    entries = named(VALUES.read_text(encoding="utf-8"))
    lines, good = report(entries, run_tests(entries), each=asked.list)
    print("\n".join(lines))
    if asked.into is not None:
        asked.into.mkdir(parents=True, exist_ok=True)
        (asked.into / "report.md").write_text("\n".join([*lines, ""]), encoding="utf-8")
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
