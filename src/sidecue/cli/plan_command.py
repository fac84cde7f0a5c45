"""`sidecue plan`: what to prepare."""

from __future__ import annotations

from typing import Annotated

import typer
from rich.console import Console

from sidecue.board.plan_sheet import sheet
from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseArgument,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    setting,
)
from sidecue.procedure.exchange import plan_to_json


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("plan")
    def plan_command(
        case: CaseArgument = DEFAULT_CASE,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
        json: Annotated[bool, typer.Option("--json", help="Print the plan as JSON.")] = False,
    ) -> None:
        """Print the plan of a case: tray in order of use, materials with their times, cautions,
        the steps, and every question to answer before starting.

        Exit code 1 when the case is refused or a question is open.

        \b
        sidecue plan                           the shipped class II composite on 46
        sidecue plan amalgam-14-do --json another case, for a script
        sidecue plan my-case.yaml --practice my-practice.yaml
        """
        made = setting(case, practice, procedure, flows).plan
        if json:
            typer.echo(plan_to_json(made))
        else:
            Console().print(sheet(made))
        if not made.startable:
            raise typer.Exit(1)
