"""A visit that has begun, without sound and stored in memory."""

from __future__ import annotations

from collections.abc import Iterable

from sidecue.cli.setting import setting
from sidecue.conductor.conducting import Conductor
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.effects import Effect
from sidecue.session.machine import SessionMachine


class _Silent:
    """A mouth that takes no time."""

    def carry_out(self, effects: Iterable[Effect], now: float) -> float:
        return now

    def busy_until(self, now: float) -> float:
        return now

    def saying(self, now: float) -> tuple[str, ...]:
        return ()


def seated() -> Conductor:
    """Return the conductor of a sealant at its first step."""
    plan = setting("sealant-36-o", "example").plan
    journal = MemoryJournal()
    session = journal.open_session(plan, "2026-03-02T09:30:00+01:00")
    conductor = Conductor(SessionMachine(plan), journal, session, _Silent())
    conductor.start(0.0)
    return conductor
