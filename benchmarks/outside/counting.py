"""Counting checks by topic and by how their source is known."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import yaml

ORACLES, DOSES = 40, 18
KNOWN = ("read", "memory", "common", "derived")


@dataclass(frozen=True, slots=True)
class Named:
    """One entry of the list: what it is about, who says so, how that is known, and its tests."""

    kind: str  # "oracles", "doses" or "tables"
    what: str
    source: str
    known: tuple[str, ...]
    tests: tuple[str, ...]

    def checks(self, ran: Iterable[str]) -> tuple[str, ...]:
        """Return the checks among the tests that `ran`: each row of a table, but an oracle or a
        dose that is tried on many rows is one check."""
        found = []
        for test in self.tests:
            rows = [name for name in ran if name == test or name.partition("[")[0] == test]
            found += rows if self.kind == "tables" else [test] if rows else []
        return tuple(found)


def named(text: str) -> tuple[Named, ...]:
    """Return the entries of a list. Raises ValueError for a gap in it or an unknown `known`."""
    read = yaml.safe_load(text)
    entries = []
    for kind, most in (("oracles", ORACLES), ("doses", DOSES), ("tables", None)):
        if most is not None and [each["n"] for each in read[kind]] != [*range(1, most + 1)]:
            raise ValueError(f"{kind} do not run from 1 to {most}")
        for each in read[kind]:
            what = {"oracles": "oracle {n}: {value}", "doses": "dose L{n}"}.get(kind, "{topic}")
            known = tuple(sorted(each["known"], key=(*KNOWN, *each["known"]).index))
            if not known or not set(known) <= set(KNOWN) or not each["source"]:
                raise ValueError(f"{kind}: {each} does not say how its source is known")
            entries.append(
                Named(kind, what.format(**each), each["source"], known, tuple(each["tests"]))
            )
    return tuple(entries)


def report(
    entries: tuple[Named, ...], passed: Mapping[str, bool], *, each: bool = False
) -> tuple[list[str], bool]:
    """Return the lines of the report, and whether every named test ran and passed.

    `passed` is every test that ran. A check counts for the first entry that names it, the tables
    first, so that nothing counts twice.
    """
    counted: dict[str, Named] = {}
    lines, good = [], True
    for entry in sorted(entries, key=lambda entry: entry.kind != "tables"):
        fresh = [name for name in entry.checks(passed) if name not in counted]
        failed = [name for name in passed if _of(name, entry) and not passed[name]]
        missing = [test for test in entry.tests if not any(_is(name, test) for name in passed)]
        good = good and not failed and not missing
        fine = [name for name in fresh if not any(_is(bad, name) for bad in failed)]
        counted |= dict.fromkeys(fine, entry)
        state = "".join(f", FAILED {name}" for name in failed)
        state += "".join(f", NO SUCH TEST {name}" for name in missing)
        whole = entry.kind != "tables" and not failed and not missing
        number = "held" if whole else f"{len(fine)} checks"
        how = ", ".join(entry.known)
        lines.append(f"- {entry.what}: {number}{state} ({entry.source}; {how})")
        lines += [f"  - {name}" for name in fine if each]
    rows = [name for name in counted if "[" in name]
    how_known = Counter(" + ".join(entry.known) for entry in counted.values())
    head = [
        "# Clinical values checked against something outside",
        "",
        f"**{len(counted)} checks passed**, {len(rows)} of them rows of tables; "
        f"{_held(entries, passed, 'oracles')} of {ORACLES} oracles and "
        f"{_held(entries, passed, 'doses')} of {DOSES} worked doses held.",
        "",
        "How the sources are known: "
        + "; ".join(f"{how} {number}" for how, number in how_known.most_common())
        + ".",
        "",
    ]
    return [*head, *lines], good


def _is(name: str, test: str) -> bool:
    return name == test or name.partition("[")[0] == test


def _of(name: str, entry: Named) -> bool:
    return any(_is(name, test) for test in entry.tests)


def _held(entries: Iterable[Named], passed: Mapping[str, bool], kind: str) -> int:
    """Return how many oracles or doses have all their tests run and passed."""
    return sum(
        all(
            (own := [name for name in passed if _is(name, test)]) and all(map(passed.get, own))
            for test in entry.tests
        )
        for entry in entries
        if entry.kind == kind
    )
