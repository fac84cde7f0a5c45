"""`sidecue materials`: the practice's products, what is missing, and what a package's code says."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator
from datetime import date
from typing import Annotated

import typer
from rich.console import Console

from sidecue.board.materials_sheet import materials_sheet
from sidecue.cli.setting import (
    DEFAULT_PRACTICE,
    FlowsOption,
    PracticeOption,
    known_procedure,
    practice_setting,
)
from sidecue.cli.trouble import Trouble
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.label import Label, read_label
from sidecue.clinical.stock import Lot, refusal
from sidecue.procedure.materials import drawer_notes, found_in_drawer, gaps, meanings
from sidecue.procedure.practice import Practice
from sidecue.procedure.product_names import name_remarks, product_names
from sidecue.procedure.refusals import refusals

DayOption = Annotated[
    str | None, typer.Option("--day", help="Judge lots on this day; default: today.")
]
_LONGEST_LINE = 1000


def register(app: typer.Typer) -> None:
    """Add the commands."""
    materials = typer.Typer(help=_HELP, rich_markup_mode=None, add_completion=False)
    app.add_typer(materials, name="materials")

    @materials.command("list")
    def list_command(
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
        day: DayOption = None,
    ) -> None:
        """List every product: role, kind, times with their meaning, lots, shades, storage."""
        library, office = practice_setting(practice, flows)
        Console().print(materials_sheet(office, meanings(library), _day(day)))

    @materials.command("check")
    def check_command(
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
        procedure: Annotated[
            str | None, typer.Option("--procedure", help="Only what this procedure needs.")
        ] = None,
        day: DayOption = None,
    ) -> None:
        """Tell what is missing for which procedure: products, the makers' times, the light's
        output, lots that have expired or are recalled; and what a plan would refuse though nothing
        is missing. Nothing is guessed.

        Exit code 1 when something is missing or would be refused.
        """
        library, office = practice_setting(practice, flows)
        if procedure is not None:
            known_procedure(library, procedure)
        on = _day(day)
        missing = [gap for gap in gaps(library, office, on) if procedure in (None, *gap.visits)]
        refused = [gap for gap in refusals(library, office, on) if procedure in (None, *gap.visits)]
        for word, found in (("missing", missing), ("refused", refused)):
            for gap in found:
                typer.echo(f"{word}: {gap.what}")
                typer.echo(f"  for {', '.join(gap.visits)}")
                typer.echo(f"  {gap.mend}")
        names = product_names(each.model for each in library.procedures.values())
        for note in (*drawer_notes(office, on), *name_remarks(office, names)):
            typer.echo(f"note: {note}")
        counts = [f"{len(missing)} missing"] if missing else []
        counts += [f"{len(refused)} refused"] if refused else []
        if counts:
            typer.echo(f"{', '.join(counts)} in {office.name}")
            raise typer.Exit(1)
        typer.echo(f"{office.name}: nothing is missing")

    @materials.command("scan")
    def scan_command(
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
        day: DayOption = None,
    ) -> None:
        """Read package codes, one a line, and tell product, lot and last day of use.

        Any scanner that types like a keyboard will do; a code copied by hand has its identifiers in
        brackets: (01)09521250001056(17)350331(10)BU1187. End with Ctrl-D.

        Exit code 1 when a line could not be read or a lot may not be used.
        """
        _, office = practice_setting(practice, flows)
        on = _day(day)
        fine = True
        for number, line in enumerate(_lines(), start=1):
            good, told = _told(office, line, on)
            fine = fine and good
            typer.echo(f"{number}: {told}")
        if not fine:
            raise typer.Exit(1)


_HELP = """The practice's products.

\b
  sidecue materials list     times with their meaning, lots, shades, storage
  sidecue materials check    what is missing for which procedure
  sidecue materials scan     package codes from a scanner, line by line
"""


def _lines() -> Iterator[str]:
    """Yield the lines that say something. Splits at line feeds only: the codes hold separators
    that Python counts as line ends."""
    stream: Iterable[str] = sys.stdin
    for line in stream:
        if line.strip(" \t\r\n"):
            yield line[:_LONGEST_LINE]


def _told(office: Practice, line: str, on: date) -> tuple[bool, str]:
    """Return whether what was scanned may be used, and one line about it."""
    try:
        label = read_label(line)
    except ClinicalError as error:
        return False, f"not read: {error}"
    product, listed = found_in_drawer(office, label.product, label.lot)
    if product is None:
        what = label.product or f"lot {label.lot}"
        mend = f"add `product-number: {label.product}`" if label.product else "add the lot"
        name, known = f"unknown product {what}", f"; {mend} to its material in {office.file}"
    else:
        name, known = product.product, ""
    expiry = label.expiry or (listed.expiry if listed is not None else None)
    recalled = listed.recalled if listed is not None else ""
    refused = refusal(name, Lot(label.lot or "?", expiry, recalled), on)
    told = f"{name}, {_lot_words(label)}, {_expiry_words(expiry)}"
    if label.serial is not None:
        told += f", serial {label.serial}"
    if refused is not None:
        return False, f"{told}: DO NOT USE, {refused.text.partition(': ')[2]}"
    if listed is not None and label.expiry not in (None, listed.expiry) and listed.expiry:
        return False, f"{told}: the office has {listed.expiry.isoformat()} written down, check"
    if product is not None and label.lot is not None and listed is None:
        day = "" if expiry is None else f", expiry: {expiry.isoformat()}"
        known = f'; new, add `- {{lot: "{label.lot}"{day}}}` under its `lots:` in {office.file}'
    return product is not None, f"{told}{known}"


def _lot_words(label: Label) -> str:
    return "no lot in this code" if label.lot is None else f"lot {label.lot}"


def _expiry_words(expiry: date | None) -> str:
    return "expiry not known" if expiry is None else f"to {expiry.isoformat()}"


def _day(written: str | None) -> date:
    if written is None:
        return date.today()
    try:
        return date.fromisoformat(written)
    except ValueError:
        raise Trouble(f"--day {written!r} is not a day: write it as 2026-03-31") from None
