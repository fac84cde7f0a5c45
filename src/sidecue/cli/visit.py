"""One visit from the command line: a stored session with a mouth, told line by line."""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path

from rich.console import Console

from sidecue.conductor.assembly import Output, mouth_of
from sidecue.conductor.conducting import Conductor, Watcher
from sidecue.procedure.plan import Plan
from sidecue.record.port import Journal
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.machine import SessionMachine
from sidecue.speaking.mouth import Mouth


def opened_now() -> str:
    """Return the wall clock as stored: ISO 8601 with offset."""
    return datetime.now().astimezone().isoformat(timespec="milliseconds")


def epoch_of(opened: str) -> float:
    """Return the second 0 of a session's clock, in seconds since 1970."""
    return datetime.fromisoformat(opened).timestamp()


@contextmanager
def visit(
    plan: Plan,
    store: Path,
    output: Output,
    *,
    session: str | None = None,
    watchers: tuple[Watcher, ...] = (),
    console: Console | None = None,
) -> Iterator[tuple[Conductor, Journal]]:
    """Open (or, with `session`, reopen) a session; release store and sound at the end."""
    said_to = console or Console(stderr=True)
    journal = SqliteJournal(store)
    try:
        opened = session or journal.open_session(plan, opened_now())
        journal.claim(opened)
        mouth = mouth_of(output, lambda fault: said_to.print(f"! {fault}", style="bold"))
        try:
            machine = SessionMachine(plan)
            yield Conductor(machine, journal, opened, mouth, watchers), journal
        finally:
            mouth.close()
    finally:
        journal.close()


def wait_until_quiet(mouth: Mouth, now: float, sounding: bool) -> None:
    """Let a sounding loudspeaker finish its last words."""
    left = mouth.busy_until(now) - now
    if sounding and left > 0:
        time.sleep(min(left, 10.0))
