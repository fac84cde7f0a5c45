"""`sidecue explain`: what a step needs, what it brings about, and who says so."""

from __future__ import annotations

from difflib import get_close_matches
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseOption,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    setting,
)
from sidecue.cli.trouble import Trouble
from sidecue.proof.explaining import explained

StepArgument = Annotated[
    str, typer.Argument(help="A step's id, as `sidecue plan --json` lists them.")
]


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("explain")
    def explain_command(
        step: StepArgument,
        case: CaseOption = DEFAULT_CASE,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
    ) -> None:
        """Explain one step: needs, what it establishes and ends, timers, and which interlocks
        hold it, each with its source.

        \b
        sidecue explain rub-adhesive
        sidecue explain tip-out --case amalgam-14-do
        """
        made = setting(case, practice, procedure, flows).plan
        if step not in made.step_index:
            near = get_close_matches(step, list(made.step_index), n=3)
            hint = f"did you mean {' or '.join(near)}?" if near else "see `sidecue plan`"
            raise Trouble(f"no step called {step!r} in {made.title} for this case: {hint}")
        table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
        for heading, text in explained(made, step):
            table.add_row(Text(heading, style="bold"), Text(text))
        Console().print(table)
