"""What a proof found, in words; and a counter-example played on the real clock."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sidecue.procedure.plan import Plan
from sidecue.proof.abstraction import NOW
from sidecue.proof.exploring import Violation
from sidecue.proof.moves import Kind, Move
from sidecue.session.events import CueGiven, Restarted, Started, TimePassed
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState


def dialogue(violation: Violation, last: int | None = None) -> Iterator[str]:
    """Yield the counter-example, one thing a line; with `last`, only that many at its end."""
    way = violation.way
    shown = way if last is None or len(way) <= last else way[-last:]
    if len(shown) < len(way):
        yield f"({len(way) - len(shown)} earlier: every step in its order)"
    yield from (move.told() for move in shown)


def played(plan: Plan, way: Sequence[Move]) -> SessionState | None:
    """Return the state after `way` with this plan's own times, or None where they forbid it.

    The exploration walks every order of ringing; a counter-example that these times forbid shows
    what another practice's times would allow.
    """
    machine = SessionMachine(plan)
    state, _ = machine.step(machine.first(), Started(NOW))
    for move in way:
        try:
            state = _moved(machine, state, move)
        except (IllegalEvent, LookupError):
            return None
    return state


def _moved(machine: SessionMachine, state: SessionState, move: Move) -> SessionState:
    now = state.now
    if move.kind is Kind.RESTART:
        return machine.step(state, Restarted(now))[0]
    if move.kind in (Kind.RING, Kind.LAPSE):
        due = machine.next_deadline(state)
        for _ in range(20):  # count-downs and warnings in between are left out of a way
            if due is None:
                raise LookupError(move.timer)
            before = state
            state, _ = machine.step(state, TimePassed(max(due, state.now)))
            if _done(before, state, move):
                return state
            due = machine.next_deadline(state)
        raise LookupError(move.timer)
    if move.cue is not None:
        return machine.step(state, CueGiven(now, move.cue.id))[0]
    return state


def _done(before: SessionState, after: SessionState, move: Move) -> bool:
    if move.kind is Kind.LAPSE:
        return before.question is not None and after.question is None
    was = next((each for each in before.timers if each.spec.name == move.timer), None)
    now = next((each for each in after.timers if each.spec.name == move.timer), None)
    return was is not None and (now is None or now != was)
