"""`sidecue record`: the record of a stored session, written again."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from sidecue.cli.leaving import left
from sidecue.cli.trouble import Trouble
from sidecue.conductor.assembly import store_path
from sidecue.record.sqlite_journal import SqliteJournal


def register(app: typer.Typer) -> None:
    """Add the command."""

    @app.command("record")
    def record_command(
        session: Annotated[
            str | None, typer.Argument(help="Its id, or the start of it; default: the newest.")
        ] = None,
        store: Annotated[
            Path | None, typer.Option(help="Journal file; default: this user's own.")
        ] = None,
        out: Annotated[
            Path, typer.Option(help="Where the visit's own folder with its files goes.")
        ] = Path(),
    ) -> None:
        """Write the chart note, the timeline and the patient's advice of a stored session.

        They go into the visit's own folder, the one that its run wrote, and replace what was
        written there. The journal holds every event; this only reads it. `sidecue resume --list`
        shows what is stored.

        \b
        sidecue record
        sidecue record 3f2a --out notes
        """
        where = store or store_path()
        journal = SqliteJournal(where)
        try:
            fitting = [info.id for info in journal.sessions() if info.id.startswith(session or "")]
            if not fitting:
                which = "" if session is None else f" {session!r}"
                raise Trouble(f"no stored session{which}: `sidecue resume --list` shows them")
            if session is not None and len(fitting) > 1:
                raise Trouble(f"{session!r} begins {len(fitting)} sessions: give more of the id")
            for path in left(journal, fitting[0], out, where):
                typer.echo(f"wrote {path}")
        finally:
            journal.close()
