"""The command line. Each command is a module of this package with a `register(app)`."""

from __future__ import annotations

import importlib
import pkgutil
import sys
from io import TextIOWrapper
from typing import Any

import typer

import sidecue.cli
from sidecue import __version__
from sidecue.cli.stopping import heed_endings
from sidecue.cli.trouble import CLEAR, in_one_line

STOPPED = 130

HELP = """Prepare and run a dental restoration hands-free, offline.

A case becomes a plan; the plan runs by voice, keys or text; a record is left.

\b
  sidecue demo                    a whole restoration, from recorded speech
  sidecue plan composite-46-mo    tray, materials, times, cautions, questions
  sidecue run composite-46-mo     run it with microphone and loudspeaker
  sidecue doctor                  what works on this machine

It reminds and records. It never decides treatment or a dose: local rules, the makers'
instructions for use and the licensed clinician win.

\b
Exit codes:
  0    done
  1    finished, with something to look at
  2    could not be done; one line says why
  130  stopped by Ctrl-C, or told to end; a session can be resumed
"""


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"sidecue {__version__}")
        raise typer.Exit


def build(command: str = "") -> typer.Typer:
    """Return the application with `command` registered, or with all where it has no module.

    Loading every command takes longer than most of them do.
    """
    app = typer.Typer(help=HELP, add_completion=False, rich_markup_mode=None)

    @app.callback()
    def _root(
        version: bool = typer.Option(
            False, "--version", callback=_version, is_eager=True, help="Print the version."
        ),
    ) -> None:
        pass

    modules = sorted(each.name for each in pkgutil.iter_modules(sidecue.cli.__path__))
    own = f"{command.replace('-', '_')}_command"
    for name in [own] if own in modules else modules:
        register = getattr(importlib.import_module(f"sidecue.cli.{name}"), "register", None)
        if register is not None:
            register(app)
    return app


#: What typer raises for a command line it cannot read, wherever it keeps that class.
_MISUSE: type[Exception] = typer.BadParameter.__bases__[0]


def main() -> None:
    """Run the command line; every foreseen trouble is one clear line and exit code 2."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):  # no alphabet of a terminal ends a visit
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
    heed_endings()
    sys.exit(run(sys.argv[1:] or ["--help"]))


def run(arguments: list[str]) -> int:
    """Run one command line; return its exit code."""
    try:
        application = build(next(iter(arguments), ""))
        code = application(arguments, prog_name="sidecue", standalone_mode=False)
    except _MISUSE as error:
        return _told(_misuse(error))
    except CLEAR as error:
        return _told(in_one_line(error))
    except (KeyboardInterrupt, typer.Abort):
        code = STOPPED
    if code == STOPPED:
        sys.stderr.write("sidecue: stopped\n")
    return code if isinstance(code, int) else 0


def _told(lines: tuple[str, ...]) -> int:
    for line in lines:
        sys.stderr.write(f"sidecue: {line}\n")
    return 2


def _misuse(error: Any) -> tuple[str, ...]:
    command = error.ctx.command_path if error.ctx is not None else "sidecue"
    what = " ".join(error.format_message().split()).rstrip(".")
    return (f"{what}; see `{command} --help`",)
