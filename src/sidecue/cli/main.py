"""The command line. Each command is a module of this package with a `register(app)`."""

from __future__ import annotations

import importlib
import pkgutil
import sys

import typer

import sidecue.cli
from sidecue import __version__
from sidecue.cli.trouble import CLEAR, in_one_line

HELP = """Prepare and run a dental restoration hands-free, offline.

A case becomes a plan; the plan runs by voice, keys or text; a record is left.

  sidecue demo                    a whole restoration, from recorded speech
  sidecue plan composite-46-mo    tray, materials, times, cautions, questions
  sidecue run composite-46-mo     run it with microphone and loudspeaker
  sidecue doctor                  what works on this machine

It reminds and records. It never decides treatment or a dose: local rules, the makers'
instructions for use and the licensed clinician win.

Exit codes: 0 done; 1 finished with something to look at; 2 could not be done, with one
line saying why; 130 stopped by Ctrl-C (a session can be resumed).
"""


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"sidecue {__version__}")
        raise typer.Exit


def build() -> typer.Typer:
    """Return the application with every command registered."""
    app = typer.Typer(help=HELP, no_args_is_help=True, add_completion=False, rich_markup_mode=None)

    @app.callback()
    def _root(
        version: bool = typer.Option(
            False, "--version", callback=_version, is_eager=True, help="Print the version."
        ),
    ) -> None:
        pass

    for module in sorted(pkgutil.iter_modules(sidecue.cli.__path__), key=lambda each: each.name):
        register = getattr(importlib.import_module(f"sidecue.cli.{module.name}"), "register", None)
        if register is not None:
            register(app)
    return app


def main() -> None:
    """Run the command line; every foreseen trouble is one clear line and exit code 2."""
    try:
        build()(prog_name="sidecue")
    except CLEAR as error:
        for line in in_one_line(error):
            sys.stderr.write(f"sidecue: {line}\n")
        sys.exit(2)
    except KeyboardInterrupt:
        sys.stderr.write("sidecue: stopped\n")
        sys.exit(130)
