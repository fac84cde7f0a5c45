"""The end of a visit at the command line: its files, or one line that says how to get them."""

from __future__ import annotations

import shlex
from pathlib import Path

from sidecue.cli.trouble import Trouble, why
from sidecue.conductor.assembly import store_path
from sidecue.conductor.ending import leave_record
from sidecue.record.port import Journal


def left(journal: Journal, session: str, out: Path, store: Path) -> tuple[Path, ...]:
    """Write the visit's files to its folder in `out`; return them. Raises JournalError, and
    Trouble where they cannot be written: the visit is safe in its store all the same."""
    try:
        return leave_record(journal, session, out)
    except OSError as error:
        again = command("record", session, store, out)
        raise Trouble(
            f"the record cannot be left in {out}: {why(error)}. "
            f"The visit is safe in {store}: `{again}` writes its record"
        ) from error


def go_on(session: str, store: Path, out: Path) -> str:
    """Return what is told of a visit that ended before its procedure was complete."""
    return f"not complete: go on with `{command('resume', session, store, out)}`"


def command(name: str, session: str, store: Path, out: Path) -> str:
    """Return the command line that does `name` with this very session."""
    words = ["sidecue", name, session]
    if store != store_path():
        words += ["--store", str(store)]
    if out != Path():
        words += ["--out", str(out)]
    return shlex.join(words)
