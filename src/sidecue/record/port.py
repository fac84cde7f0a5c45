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


@dataclass(frozen=True, slots=True)
class Seal:
    """What a printed record can be checked against: how many events, and the last hash."""

    events: int
    hash: str  # SHA-256, 64 hexadecimal digits


class JournalError(Exception):
    """The journal could not be read or written; the message says why and how to mend it."""


class ConflictError(JournalError):
    """An event with this number is already on disk."""


class BusyError(JournalError):
    """Another process is running this session."""


class UnreadableEventError(JournalError):
    """A stored event is not one this version knows."""


class TamperedError(JournalError):
    """The stored chain does not hold. `number` is the first event that cannot be trusted;
    None when it is the plan."""

    def __init__(self, message: str, session: str, number: int | None) -> None:
        self.session, self.number = session, number
        super().__init__(message)


class Journal(Protocol):
    """Event store. `append` returns only when the event is safe on disk."""

    def open_session(self, plan: Plan, opened: str) -> str:
        """Store the plan, claim the new session for this process and return its id.

        `opened` is ISO 8601 with offset: the wall clock at second 0 of the session's clock.
        """
        ...

    def claim(self, session: str) -> None:
        """Hold the session for this process, so that no other runs it; a crash lets go.

        `append` claims by itself. Raises BusyError. Safe to call twice.
        """
        ...

    def append(self, session: str, number: int, event: Event) -> None:
        """Append event `number` (0, 1, 2 ...).

        Raises ConflictError when the number is taken, BusyError when another process runs the
        session, JournalError when a number is left out, the session is closed or the disk fails.
        """
        ...

    def close_session(self, session: str) -> None:
        """Mark it finished; it is no longer offered by resume and takes no more events."""
        ...

    def plan(self, session: str) -> Plan:
        """The plan the session was opened with. Raises TamperedError when it was changed."""
        ...

    def events(self, session: str) -> Sequence[Event]:
        """All events in order. Raises TamperedError naming the first that cannot be trusted."""
        ...

    def seal(self, session: str) -> Seal:
        """How many events there are and the hash that covers them all."""
        ...

    def sessions(self) -> Sequence[SessionInfo]:
        """Newest first."""
        ...

    def close(self) -> None:
        """Release the store. Safe to call twice."""
        ...
