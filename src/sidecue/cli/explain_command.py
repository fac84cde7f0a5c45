"""`sidecue explain`: what a step needs, what it brings about, and who says so."""

from __future__ import annotations

from difflib import get_close_matches
from pathlib import PurePath
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    planned,
    practice_setting,
)
from sidecue.cli.trouble import Trouble
from sidecue.procedure.case import CaseFault
from sidecue.procedure.library import Library, steps_of
from sidecue.procedure.plan import Plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.source import LoadError
from sidecue.proof.explaining import explained

StepArgument = Annotated[
    str, typer.Argument(help="A step's id, as `sidecue plan --json` lists them.")
]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("explain")
    def explain_command(
        step: StepArgument,
        case: Annotated[
            str | None,
            typer.Option(
                "--case",
                help="A case file, or the name of a shipped case. Without it: one with this step.",
            ),
        ] = None,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
    ) -> None:
        """Explain one step: needs, what it establishes and ends, timers, which interlocks hold
        it, which need it later, and its cautions, each with its source.

        \b
        sidecue explain rub-adhesive
        sidecue explain mix-capsule --case amalgam-14-do
        """
        library, office = practice_setting(practice, flows)
        made = planned(library, office, case or DEFAULT_CASE, procedure).plan
        if step not in made.step_index:
            elsewhere = _cases_with(step, library, office)
            if not elsewhere or case is not None or procedure is not None:
                raise Trouble(_missing(step, made, elsewhere, library))
            made = elsewhere[0][1]
        table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
        table.add_row(Text("case", style="bold"), Text(f"{made.case_line} ({made.title})"))
        for heading, text in explained(made, step):
            table.add_row(Text(heading, style="bold"), Text(text))
        Console().print(table)


def _cases_with(step: str, library: Library, office: Practice) -> list[tuple[str, Plan]]:
    """Return the shipped cases whose plan has `step`."""
    found: list[tuple[str, Plan]] = []
    for name in library.cases:
        try:
            made = planned(library, office, name).plan
        except (CaseFault, LoadError, Trouble):  # told by the commands that run it
            continue
        if step in made.step_index:
            found.append((name, made))
    return found


def _missing(step: str, made: Plan, elsewhere: list[tuple[str, Plan]], library: Library) -> str:
    """Return what to say of a step that the plan lacks: where it is, or what it may be."""
    missing = f"no step called {step!r} in {made.title} for this case"
    if elsewhere:
        titles = dict.fromkeys(plan.title for _, plan in elsewhere)
        return f"{missing}: it is in {', '.join(titles)}; try --case {elsewhere[0][0]}"
    written = {
        entry.step: source.document.file
        for source in library.procedures.values()
        for _, entry, _ in steps_of(source.model)
    }
    if step in written:
        name = PurePath(written[step]).name
        return f"{missing}: {name} has it, for cases that none of the shipped ones is like"
    near = get_close_matches(step, list(dict.fromkeys((*made.step_index, *written))), n=3)
    hint = f"did you mean {' or '.join(near)}?" if near else "see `sidecue plan`"
    return f"{missing}: {hint}"
