"""The journal for a visit that is to leave nothing behind: kept in memory, same rules."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from sidecue.procedure.exchange import plan_from_json, plan_to_json
from sidecue.procedure.plan import Plan
from sidecue.record import chain
from sidecue.record.event_codec import event_from_json, event_to_json
from sidecue.record.port import ConflictError, JournalError, Seal, SessionInfo
from sidecue.session.events import Event


@dataclass(slots=True)
class _Kept:
    info: SessionInfo
    plan: str
    last_hash: str
    rows: list[chain.Row] = field(default_factory=list)


class MemoryJournal:
    """A `Journal` that ends with the process. Events pass through their stored form, so that a
    session which runs here runs from a file as well."""

    def __init__(self) -> None:
        self._sessions: dict[str, _Kept] = {}

    def open_session(self, plan: Plan, opened: str) -> str:
        """Keep the plan and return the new session's id."""
        session = f"{opened[:10]}-{len(self._sessions) + 1:06d}"
        body = plan_to_json(plan)
        info = SessionInfo(session, plan.title, plan.case_line, opened, 0, closed=False)
        first = chain.root(session, opened, chain.digest(body))
        self._sessions[session] = _Kept(info, body, first)
        return session

    def claim(self, session: str) -> None:
        """Nobody else can see this session; it only has to exist."""
        self._kept(session)

    def append(self, session: str, number: int, event: Event) -> None:
        """Append event `number`."""
        kept = self._kept(session)
        body = event_to_json(event)
        if number < kept.info.events:
            raise ConflictError(f"session {session}: event {number} is already stored")
        if number > kept.info.events:
            raise JournalError(
                f"session {session}: event {number} cannot follow {kept.info.events} stored events"
            )
        if kept.info.closed:
            raise JournalError(f"session {session} is finished; open a new one")
        kept.last_hash = chain.link(kept.last_hash, session, number, body)
        kept.rows.append((number, body, kept.last_hash))
        kept.info = replace(kept.info, events=number + 1)

    def close_session(self, session: str) -> None:
        """Mark it finished."""
        kept = self._kept(session)
        kept.info = replace(kept.info, closed=True)

    def plan(self, session: str) -> Plan:
        """The plan the session was opened with."""
        return plan_from_json(self._kept(session).plan)

    def events(self, session: str) -> Sequence[Event]:
        """All events in order."""
        return tuple(event_from_json(body) for _, body, _ in self._kept(session).rows)

    def seal(self, session: str) -> Seal:
        """How many events there are and the hash that covers them all."""
        kept = self._kept(session)
        return Seal(kept.info.events, kept.last_hash)

    def sessions(self) -> Sequence[SessionInfo]:
        """Newest first."""
        return tuple(kept.info for kept in reversed(self._sessions.values()))

    def close(self) -> None:
        """Nothing to release."""

    def _kept(self, session: str) -> _Kept:
        if session not in self._sessions:
            raise JournalError(f"no session {session!r} in this journal; list the sessions it has")
        return self._sessions[session]
