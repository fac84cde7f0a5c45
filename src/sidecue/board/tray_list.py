"""Tomorrow's list: cases from a CSV file, and everything to be pulled for all of them together.

The first row names the columns. `tooth`, `surfaces`, `material` and `isolation` are needed; every
other entry of a case file may be a column too (`depth-mm`, `liner`, `flags` with spaces between
...), and an empty cell says nothing. Four columns are for the list alone: `time`, `chair`,
`procedure` (its id, when several fit) and `case` (the name of a shipped case instead of entries).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sidecue.procedure.case import Case, CaseFault
from sidecue.procedure.loading import case_from, placed_case
from sidecue.procedure.plan import Plan
from sidecue.procedure.reading import suggest
from sidecue.procedure.schema import CaseFile
from sidecue.procedure.source import Fault, LoadError, Sourced, read_text

OWN_COLUMNS = ("time", "chair", "procedure", "case")
_CASE_COLUMNS = tuple(field.alias or name for name, field in CaseFile.model_fields.items())
_NEEDED = ("tooth", "surfaces", "material", "isolation")
MOST_ROWS = 200  # a practice's day; more is another file by mistake


@dataclass(frozen=True, slots=True)
class Listed:
    """One row that can be read. `line` counts from 1; `when` is time and chair as they were."""

    line: int
    when: str
    procedure: str | None
    case: Case


@dataclass(frozen=True, slots=True)
class PullRow:
    """One thing and how many of it."""

    name: str
    count: int


@dataclass(frozen=True, slots=True)
class Pull:
    """What to pull for all visits: headings with their rows, and the visits in a line each."""

    title: str
    visits: tuple[str, ...]
    groups: tuple[tuple[str, tuple[PullRow, ...]], ...]


def read_list(
    path: Path,
    notation: str | None,
    cases: Mapping[str, Sourced[CaseFile]],
    day: str | None = None,
) -> tuple[list[Listed], list[Fault]]:
    """Return the rows of a CSV file that are cases, and a fault for each that is not.

    `day` is the date of rows without one. Raises LoadError when the file itself cannot be used.
    """
    shown = str(path)
    text = read_text(path, shown)
    rows, faults = _rows(text, shown)
    good: list[Listed] = []
    for line, row in rows:
        try:
            good.append(_listed(line, row, notation, cases, day))
        except CaseFault as fault:
            faults.append(Fault(shown, line, f"{fault.key}: {fault.what}", fault.mend))
        except LoadError as error:
            faults += [Fault(shown, line, each.what, each.mend) for each in error.faults]
    return good, faults


def _rows(text: str, shown: str) -> tuple[list[tuple[int, dict[str, str]]], list[Fault]]:
    first = text.partition("\n")[0]
    delimiter = ";" if first.count(";") > first.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, dict[str, str]]] = []
    faults: list[Fault] = []
    header: list[str] | None = None
    try:
        for cells in reader:
            line = reader.line_num
            cells = [cell.strip() for cell in cells]  # noqa: PLW2901 - the cells as they are meant
            if not any(cells) or cells[0].startswith("#"):
                continue
            if header is None:
                header = _header(cells, shown, line)
                continue
            if len(cells) > len(header):
                what = f"{len(cells)} cells under {len(header)} headings"
                faults.append(Fault(shown, line, what, "put quotes around a cell with a comma"))
                continue
            if len(rows) == MOST_ROWS:
                mend = "print one day at a time"
                faults.append(Fault(shown, line, f"more than {MOST_ROWS} cases", mend))
                break
            rows.append((line, {h: c for h, c in zip(header, cells, strict=False) if c}))
    except csv.Error as error:
        faults.append(Fault(shown, reader.line_num, f"not CSV, {error}", "check its quotes"))
    if header is None and not faults:
        raise LoadError([Fault(shown, 1, "the list is empty", "begin with a row of headings")])
    return rows, faults


def _header(cells: Sequence[str], shown: str, line: int) -> list[str]:
    names = [cell.lower().replace("_", "-").replace(" ", "-") for cell in cells]
    known = (*_CASE_COLUMNS, *OWN_COLUMNS)
    faults = [
        Fault(shown, line, f"unknown heading {name!r}", suggest(name, known))
        for name in names
        if name not in known
    ]
    faults += [
        Fault(shown, line, f"heading {name!r} is there twice", "keep one")
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    ]
    if "case" not in names:
        faults += [
            Fault(shown, line, f"there is no heading {name!r}", f"add a column `{name}`")
            for name in _NEEDED
            if name not in names
        ]
    if faults:
        raise LoadError(faults)
    return names


def _listed(
    line: int,
    row: Mapping[str, str],
    notation: str | None,
    cases: Mapping[str, Sourced[CaseFile]],
    day: str | None,
) -> Listed:
    chair = f"chair {row['chair']}" if "chair" in row else ""
    when = ", ".join(each for each in (row.get("time", ""), chair) if each)
    entries: dict[str, object] = {k: v for k, v in row.items() if k not in OWN_COLUMNS}
    name = row.get("case")
    if name is not None:
        if entries:
            what = f"{name!r} and {next(iter(entries))!r} are both given"
            raise CaseFault("case", what, "name a case or describe one, not both")
        if name not in cases:
            raise CaseFault("case", f"there is no case called {name!r}", suggest(name, cases))
        return Listed(line, when, row.get("procedure"), placed_case(cases[name], notation))
    for several in ("flags", "missing"):
        if several in entries:
            entries[several] = [each for each in re.split(r"[\s;,|]+", row[several]) if each]
    if day is not None:
        entries.setdefault("date", day)
    return Listed(line, when, row.get("procedure"), case_from(entries, notation))


def pull_list(
    plans: Iterable[tuple[str, Plan]], title: str, heading_of: Callable[[str], str]
) -> Pull:
    """Return everything to be pulled for `plans` (when, plan): the pieces of each thing that
    every visit uses. `heading_of` gives the heading of an instrument's id."""
    groups: dict[str, dict[str, int]] = {}
    products: dict[str, int] = {}
    visits = []
    for when, plan in plans:
        visits.append(f"{when}  {plan.case_line}".strip())
        for item in plan.tray:
            rows = groups.setdefault(heading_of(item.instrument), {})
            rows[item.name] = rows.get(item.name, 0) + item.count
        for material in plan.materials:
            lot = f", lot {material.lot}" if material.lot else ""
            name = f"{material.product}{lot}"
            products[name] = products.get(name, 0) + 1
    if products:
        groups["Materials, by visits"] = products
    return Pull(
        title,
        tuple(visits),
        tuple(
            (heading, tuple(PullRow(name, count) for name, count in sorted(rows.items())))
            for heading, rows in groups.items()
        ),
    )
