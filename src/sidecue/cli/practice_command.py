"""`sidecue practice`: a practice's own file, to begin with."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sidecue.assets import data_folder
from sidecue.cli.setting import FlowsOption
from sidecue.cli.trouble import Trouble
from sidecue.procedure.loading import load_library
from sidecue.procedure.practice_form import practice_form

FileArgument = Annotated[Path, typer.Argument(help="The file to write; it must not be there yet.")]


def register(app: typer.Typer) -> None:
    """Add the command."""
    practice = typer.Typer(help=_HELP, rich_markup_mode=None, add_completion=False)
    app.add_typer(practice, name="practice")

    @practice.callback()
    def _group() -> None:
        pass

    @practice.command("begin")
    def begin_command(file: FileArgument, flows: FlowsOption = None) -> None:
        """Write a practice's file to fill in: every product that the procedures ask for, with its
        times empty and what each of them means. A time that stays empty is asked for before the
        start, never guessed. A file that is there is never written over.
        """
        text = practice_form(load_library(data_folder("flows"), flows or ()))
        try:
            with file.open("x", encoding="utf-8") as form:
                form.write(text)
        except FileExistsError:
            raise Trouble(f"{file} is there already: nothing was written, name another") from None
        typer.echo(f"written: {file}")
        typer.echo("fill it in; what is missing then, for which procedure, tells:")
        typer.echo(f"  sidecue materials check --practice {file}")


_HELP = """Your own practice: its products, their times, its light.

\b
  sidecue practice begin my-practice.yaml                     a file to fill in
  sidecue practice begin my-practice.yaml --flows my-flows    for your own procedures, too
"""
