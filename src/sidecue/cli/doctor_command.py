"""`sidecue doctor`: what works on this machine, and how to mend what does not."""

from __future__ import annotations

import json as json_text
from collections.abc import Callable
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.table import Table
from rich.text import Text

from sidecue import __version__
from sidecue.cli import checkup
from sidecue.cli.checkup import Part, Parts, Verdict, guarded
from sidecue.cli.setting import (
    DEFAULT_CASE,
    DEFAULT_PRACTICE,
    CaseOption,
    FlowsOption,
    PracticeOption,
    setting,
)
from sidecue.conductor.assembly import store_path
from sidecue.procedure.plan import Plan
from sidecue.procedure.source import LoadError

STYLES = {Verdict.WORKS: "", Verdict.MISSING: "bold reverse", Verdict.OPTIONAL: "dim"}
WITHOUT = "`sidecue demo`, and `sidecue run --engine text --mute` with typed phrases"


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("doctor")
    def doctor_command(
        case: CaseOption = DEFAULT_CASE,
        practice: PracticeOption = DEFAULT_PRACTICE,
        flows: FlowsOption = None,
        store: Annotated[
            Path | None, typer.Option(help="Journal file to check; default: this user's own.")
        ] = None,
        json: Annotated[bool, typer.Option("--json", help="Print the findings as JSON.")] = False,
    ) -> None:
        """Tell what works on this machine and how to mend what does not.

        Looks at the procedures, the plan's open questions, the recogniser and the words it
        lacks, the voice, microphone and loudspeaker by name, and the journal. The microphone is
        opened for a moment; nothing of it is kept.

        Exit code 0 when a live session by voice can run, 1 when something it needs is missing.

        \b
        sidecue doctor
        sidecue doctor --case my-case.yaml --practice my-practice.yaml
        """
        console = Console(stderr=json)
        with console.status("looking"):
            parts = list(look(case, practice, flows, store or store_path()))
        missing = list(dict.fromkeys(p.part for p in parts if p.verdict is Verdict.MISSING))
        if json:
            found = {
                "version": __version__,
                "ready": not missing,
                "parts": list(map(asdict, parts)),
            }
            typer.echo(json_text.dumps(found, indent=2, ensure_ascii=False))
        else:
            console.print(table(parts))
            console.print(_verdict(missing))
        if missing:
            raise typer.Exit(1)


def look(case: str, practice: str, flows: list[Path] | None, store: Path) -> Parts:
    """Look at every part, in the order in which a visit needs them."""
    yield from guarded("python", checkup.python)
    plan: list[Plan] = []
    yield from _procedures(case, practice, flows, plan)
    if plan:
        yield from checkup.answers(plan[0])
        yield from guarded("ears", partial(checkup.embedded_engine, plan[0]))
        yield from guarded("ears: vosk", partial(checkup.vosk_models, plan[0]), needed=False)
    yield from guarded("tuning", checkup.tunings)
    yield from guarded("noise filter", checkup.noise_filter, needed=False)
    sounding: tuple[tuple[str, Callable[[], Parts]], ...] = (
        ("voice", checkup.voice_renders),
        ("sound library", checkup.sound_library),
        ("microphone", checkup.microphones),
        ("loudspeaker", checkup.loudspeakers),
        ("board", checkup.board_screens),
        ("journal", partial(checkup.storage, store)),
    )
    for name, check in sounding:
        yield from guarded(name, check)


def _procedures(case: str, practice: str, flows: list[Path] | None, plan: list[Plan]) -> Parts:
    try:
        made = setting(case, practice, None, flows)
    except LoadError as error:  # a name mistyped on the command line is no ailment: it passes
        for fault in error.faults:
            what = f"{fault.file}:{fault.line}: {fault.what}"
            yield Part("procedures", Verdict.MISSING, what, fault.mend)
        return
    plan.append(made.plan)
    library = made.library
    counts = (len(library.visits), len(library.practices), len(library.cases))
    what = "{} visits, {} practices, {} cases load".format(*counts)
    yield Part("procedures", Verdict.WORKS, what)


def table(parts: list[Part]) -> Table:
    """Return the findings for a terminal: part, verdict, what was found, how to mend it."""
    grid = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    for part in parts:
        told = Text(part.what)
        if part.mend:
            told.append(f"\nmend: {part.mend}")
        grid.add_row(part.part, Text(part.verdict.value, style=STYLES[part.verdict]), told)
    return grid


def _verdict(missing: list[str]) -> str:
    if not missing:
        return "\nReady for a live session by voice."
    lacking = f"Not ready for a live session by voice; missing: {', '.join(missing)}."
    return f"\n{lacking}\nWhat runs without sound: {WITHOUT}."
