"""`sidecue advice`: what the patient takes home, by what was really done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated

import typer
from rich.console import Console
from rich.text import Text

from sidecue.board.advice_page import DRAFT, advice_page
from sidecue.cli.keeping import Force, refuse_to_replace, write_files
from sidecue.cli.reading import Reader
from sidecue.cli.setting import (
    DEFAULT_PRACTICE,
    FlowsOption,
    PracticeOption,
    ProcedureOption,
    setting,
)
from sidecue.cli.trouble import Trouble
from sidecue.conductor.assembly import store_path
from sidecue.conductor.ending import story_of
from sidecue.record.advice import advice_of
from sidecue.record.port import Journal, SessionInfo
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.advising import CALL


@dataclass(frozen=True, slots=True)
class _Told:
    """The sentences, and what stands over them."""

    sentences: tuple[str, ...]
    when: str
    draft: bool


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("advice")
    def advice_command(
        session: Annotated[
            str | None, typer.Argument(help="Its id, or the start of it; default: the newest.")
        ] = None,
        case: Annotated[
            str | None, typer.Option("--case", help="A draft for a case that is only planned.")
        ] = None,
        html: Annotated[
            Path | None, typer.Option("--html", help="Write it in large print to this page.")
        ] = None,
        force: Force = False,
        speak: Annotated[bool, typer.Option("--speak", help="Read it to the patient.")] = False,
        loudspeaker: Annotated[
            str | None, typer.Option(help="Loudspeaker for --speak, by (part of) its name.")
        ] = None,
        store: Annotated[
            Path | None, typer.Option(help="Journal file; default: this user's own.")
        ] = None,
        practice: PracticeOption = DEFAULT_PRACTICE,
        procedure: ProcedureOption = None,
        flows: FlowsOption = None,
    ) -> None:
        """Print the patient's advice by what was really done, for a child or an adult, in plain
        words: from the read-out on, while the visit still runs, so that the patient can take it.

        Exit code 1 before the read-out: there is no advice to give yet.

        \b
        sidecue advice                             the newest visit
        sidecue advice --html advice.html --speak  large print, and read aloud
        sidecue advice --case sealant-36-o         a draft of what is planned
        """
        if html is not None:
            refuse_to_replace([html], force=force)
        if case is not None:
            if session is not None:
                raise Trouble("name a session or a --case, not both")
            made = setting(case, practice, procedure, flows).plan
            planned = tuple(advice.text for advice in made.advice)
            told = _Told(planned, f"{made.case_line} · {made.practice}", draft=True)
        else:
            told = _stored(session, store or store_path())
        _show(told)
        if html is not None:
            page = advice_page(told.sentences, told.when, CALL, draft=told.draft)
            write_files({html: page.encode("utf-8")}, force=force)
            typer.echo(f"wrote {html}")
        if speak:
            _read_out(told.sentences, loudspeaker)


def _stored(session: str | None, store: Path) -> _Told:
    journal = SqliteJournal(store)
    try:
        return _of(journal, _chosen(journal.sessions(), session))
    finally:
        journal.close()


def _of(journal: Journal, info: SessionInfo) -> _Told:
    story = story_of(journal, info.id)
    if not story.advice_due:
        typer.echo(f"{info.id} is not read out yet: there is no advice to give", err=True)
        raise typer.Exit(1)
    return _Told(advice_of(story), f"{info.opened[:10]} · {story.plan.practice}", draft=False)


def _chosen(known: Sequence[SessionInfo], wanted: str | None) -> SessionInfo:
    fitting = [info for info in known if wanted is None or info.id.startswith(wanted)]
    if not fitting:
        what = "no session is stored" if wanted is None else f"there is no session {wanted!r}"
        raise Trouble(f"{what}: `sidecue resume --list` shows what is")
    if wanted is not None and len(fitting) > 1:
        raise Trouble(f"{wanted!r} begins {len(fitting)} sessions: give more of the id")
    return fitting[0]


def _show(told: _Told) -> None:
    console = Console()
    console.print(Text("AFTER YOUR VISIT", style="bold"))
    console.print(Text(told.when))
    if told.draft:
        console.print(Text(DRAFT, style="italic"))
    for sentence in told.sentences:
        console.print(Text(f"\n  {sentence}", style="bold"))
    console.print(Text(f"\n{CALL}"))


def _read_out(sentences: Sequence[str], loudspeaker: str | None) -> None:
    with Reader(loudspeaker or "") as reader:
        for sentence in (*sentences, CALL):
            reader.say(sentence)
