"""The journal port: append-only, ordered by number, never by time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

from sidecue.procedure.plan import Plan
from sidecue.session.events import Event


@dataclass(frozen=True, slots=True)
class SessionInfo:
    """One stored session, as `sidecue resume` lists it."""

    id: str
    title: str
    case_line: str
    opened: str  # ISO 8601 with offset
    events: int
    closed: bool


class JournalError(Exception):
    """The journal could not be read or written; the message says why and how to mend it."""


class ConflictError(JournalError):
    """An event with this number is already on disk."""


class Journal(Protocol):
    """Event store. `append` returns only when the event is safe on disk."""

    def open_session(self, plan: Plan, opened: str) -> str:
        """Store the plan and return the new session's id."""
        ...

    def append(self, session: str, number: int, event: Event) -> None:
        """Append event `number` (0, 1, 2 ...). Raises ConflictError when the number is taken."""
        ...

    def close_session(self, session: str) -> None:
        """Mark it finished; it is no longer offered by resume."""
        ...

    def plan(self, session: str) -> Plan:
        """The plan the session was opened with."""
        ...

    def events(self, session: str) -> Sequence[Event]:
        """All events in order. Raises JournalError when the chain was tampered with."""
        ...

    def sessions(self) -> Sequence[SessionInfo]:
        """Newest first."""
        ...

    def close(self) -> None:
        """Release the store. Safe to call twice."""
        ...
