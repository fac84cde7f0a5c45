"""`sidecue tray`: a card beside the tray, for a case or for tomorrow's list."""

from __future__ import annotations

import sys
from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from sidecue.board.pdf_pen import LettersError
from sidecue.board.tray_card import Card, card_of
from sidecue.board.tray_html import tray_html
from sidecue.board.tray_list import Listed, Pull, pull_list, read_list
from sidecue.board.tray_pdf import filled, tray_pdf
from sidecue.cli.keeping import Force, refuse_to_replace, write_files
from sidecue.cli.setting import (
    DEFAULT_PRACTICE,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    planned,
    practice_setting,
)
from sidecue.cli.trouble import Trouble
from sidecue.procedure.case import Case
from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import PlanError, choose_procedure, plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.source import Fault

DEFAULT_HTML = Path("tray.html")

_HEADINGS = {
    "exam": "Examination", "hand-cutting": "Hand cutting", "rotary": "Rotary",
    "restorative": "Restorative", "finishing": "Finishing", "isolation": "Isolation",
    "anaesthesia": "Anaesthesia", "light": "Light", "protection": "Protection",
    "accessory": "Accessories",
}  # fmt: skip


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("tray")
    def tray_command(
        cases: Annotated[
            list[str] | None,
            typer.Argument(help="Case files, or names of shipped cases.", metavar="[CASE]..."),
        ] = None,
        list_: Annotated[
            Path | None, typer.Option("--list", help="A CSV file of cases, one a row.")
        ] = None,
        html: Annotated[Path, typer.Option("--html", help="Where the page goes.")] = DEFAULT_HTML,
        pdf: Annotated[Path | None, typer.Option("--pdf", help="Print a PDF here too.")] = None,
        force: Force = False,
        day: Annotated[
            str | None, typer.Option(help="Date of rows without one, such as 2026-03-31.")
        ] = None,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
    ) -> None:
        """Print a tray card for each case: one A4 sheet with what to lay out, in order of use,
        with drawings; how it is handed; materials with times and lots; what to watch; what is
        still open. More than one case gets a pull list of everything together.

        The list has a row of headings: tooth, surfaces, material, isolation, then any other entry
        of a case (date, depth-mm, liner, flags ...), and time, chair, procedure or case (a shipped
        case by name). A row that cannot be a case is told by its line; the others are printed.

        Exit code 1 when a row could not be read, or a case is refused or has an open question.

        \b
        sidecue tray composite-46-mo
        sidecue tray --list tomorrow.csv --day 2026-03-31 --pdf tomorrow.pdf
        """
        _check_day(day)
        refuse_to_replace([html] if pdf is None else [html, pdf], force=force)
        visits, faults = _visits(cases or [], list_, day, practice, procedure, flows)
        printed = [each.card for each in visits]
        pull = _pull(visits, day or "") if len(visits) > 1 or list_ is not None else None
        write_files({html: tray_html(printed, pull).encode("utf-8")}, force=force)
        typer.echo(f"wrote {html}")
        if pdf is not None:
            try:
                write_files({pdf: tray_pdf(printed, pull)}, force=force)
            except LettersError as error:
                told = f"the PDF has no letter for {error}"
                raise Trouble(f"{told}: print {html} from a browser instead") from None
            typer.echo(f"wrote {pdf}")
        for each in visits:
            state = "ready" if each.plan.startable else "NOT READY, see the card"
            typer.echo(f"{each.plan.case_line}: {len(each.plan.tray)} things, {state}")
        for fault in faults:
            sys.stderr.write(f"sidecue: {fault}\n")
        if faults or not all(each.plan.startable for each in visits):
            raise typer.Exit(1)


class _Visit:
    """A planned case and its card."""

    def __init__(self, library: Library, case: Case, made: Plan, when: str) -> None:
        titles = {name: source.model.title for name, source in library.procedures.items()}
        day = "" if case.on is None else case.on.isoformat()
        self.library, self.plan = library, made
        self.when = when
        card = card_of(made, titles, case.tooth, f"{day}  {when}".strip())
        try:
            self.card: Card = filled(card)
        except LettersError:  # the PDF's typeface cannot measure it; the page prints it
            self.card = card


def _visits(
    cases: list[str],
    list_: Path | None,
    day: str | None,
    practice: str,
    procedure: str | None,
    flows: list[Path] | None,
) -> tuple[list[_Visit], list[Fault]]:
    if not cases and list_ is None:
        raise Trouble("name a case or give --list FILE: `sidecue tray --help` shows both")
    library, office = practice_setting(practice, flows)
    made = [planned(library, office, case, procedure) for case in cases]
    visits = [_Visit(library, each.case, each.plan, "") for each in made]
    if list_ is None:
        return visits, []
    rows, faults = read_list(list_, office.notation, library.cases, day)
    for row in rows:
        try:
            visits.append(_planned(library, office, row, procedure))
        except PlanError as error:
            what, _, mend = str(error).partition(": ")
            faults.append(Fault(str(list_), row.line, what, mend))
    if not visits:
        told = [str(fault) for fault in sorted(faults)]
        raise Trouble("\n".join(told) or f"{list_}: there is no case in this list")
    return visits, sorted(faults)


def _planned(library: Library, office: Practice, row: Listed, procedure: str | None) -> _Visit:
    chosen = row.procedure or procedure or choose_procedure(library, row.case, office)
    made = plan(library, chosen, row.case, office, date.today())
    return _Visit(library, row.case, made, row.when)


def _pull(visits: list[_Visit], day: str) -> Pull:
    library = visits[0].library

    def heading(instrument: str) -> str:
        return _HEADINGS[library.instruments[instrument].family]

    title = f"{len(visits)} visits{f', {day}' if day else ''}: how many of each to pull"
    return pull_list(((each.when, each.plan) for each in visits), title, heading)


def _check_day(day: str | None) -> None:
    if day is None:
        return
    try:
        date.fromisoformat(day)
    except ValueError:
        raise Trouble(f"--day {day!r} is not a day: write it as 2026-03-31") from None
