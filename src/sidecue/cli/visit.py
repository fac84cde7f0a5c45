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
from sidecue.conductor.preparing import likely_prompts
from sidecue.conductor.running import WallClock
from sidecue.procedure.plan import Plan
from sidecue.record.port import Journal
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.machine import SessionMachine


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
    opened: str | None = None,
    watchers: tuple[Watcher, ...] = (),
    console: Console | None = None,
) -> Iterator[tuple[Conductor, Journal]]:
    """Open a session (at `opened`, default now), or reopen `session`; release store and sound at
    the end. The sound comes first: without it nothing is stored."""
    said_to = console or Console(stderr=True)
    mouth = mouth_of(
        output,
        lambda fault: said_to.print(f"! {fault}", style="bold"),
        likely_prompts(SessionMachine(plan)),  # one of its own: another thread walks it
    )
    try:
        journal = SqliteJournal(store)
        try:
            name = session or journal.open_session(plan, opened or opened_now())
            journal.claim(name)
            yield Conductor(SessionMachine(plan), journal, name, mouth, watchers), journal
        finally:
            journal.close()
    finally:
        mouth.close()


def wait_until_quiet(conductor: Conductor, clock: WallClock) -> None:
    """Let a sounding loudspeaker finish its last words, for ten seconds at most."""
    end = clock.now() + 10.0
    while conductor.speaking(clock.now()) and clock.now() < end:
        time.sleep(0.1)
