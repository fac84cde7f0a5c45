"""Timer arithmetic: which timers run, when each rings next, and what ended ones are worth.

A timer is a start and a specification; it never ticks. It outlives its step unless its own step's
end, or another step's `stops`, ends it; a set material cannot be paused.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from enum import Enum
from math import floor

from sidecue.procedure.plan import Plan, Step, TimerKind, TimerSpec
from sidecue.session.state import KeptTimer, Mode, RunningTimer, SessionState

#: A hundredth of a second: less than anyone can act on, more than a clock's rounding.
TOLERANCE = 0.01

HOLDING = frozenset({TimerKind.HARD_MINIMUM, TimerKind.WINDOW})
ALARMING = frozenset({TimerKind.HARD_MAXIMUM, TimerKind.WINDOW})


#: Seconds before a maximum in which the tool keeps short: while it talks it cannot hear the cue
#: that would stop the timer.
PRESSING = 20.0


def pressing(state: SessionState) -> bool:
    """Return whether something spoils within `PRESSING` seconds."""
    return any(
        timer.spec.kind in ALARMING
        and timer.spec.most is not None
        and 0.0 < timer.started + timer.spec.most - state.now <= PRESSING
        for timer in state.timers
    )


#: Seconds between two reminders of a maximum that has passed, until what it timed is ended.
REMIND_EVERY = 20.0


class Ring(Enum):
    """What a timer announces."""

    WARN = "warn"
    RIPE = "ripe"
    OVER = "over"


@dataclass(frozen=True, slots=True)
class Due:
    """A ring and when it is due."""

    due: float
    timer: RunningTimer
    ring: Ring


def stopped_elsewhere(plan: Plan) -> frozenset[str]:
    """Names of timers that some step stops; the others end with their own step."""
    return frozenset(name for step in plan.steps for name in (*step.stops, *step.done_stops))


def started(spec: TimerSpec, step: str, state: SessionState) -> RunningTimer:
    """Start `spec` now. With `no_less_than`, the least time grows to what that timer ran."""
    least = spec.least
    if spec.no_less_than is not None:
        ran = [timer.ran for timer in state.kept if timer.name == spec.no_less_than]
        ran += [
            state.now - each.started for each in state.timers if each.spec.name == spec.no_less_than
        ]
        if ran:
            least = max(least or 0.0, ran[-1])
    return RunningTimer(spec=spec, step=step, started=state.now, least=least)


def ended(timer: RunningTimer, at: float) -> KeptTimer:
    """End `timer` and say what it was worth."""
    ran = at - timer.started
    if timer.spec.kind is TimerKind.COUNT_DOWN:
        verdict = "told"
    elif timer.least is not None and ran < timer.least - TOLERANCE:
        verdict = "short"
    elif is_overdue(timer, ran):
        verdict = "overdue"
    else:
        verdict = "kept"
    return KeptTimer(timer.spec.name, timer.step, timer.started, ran, verdict)


def is_overdue(timer: RunningTimer, ran: float) -> bool:
    """Whether an end after `ran` seconds is too late: past its most, or told to be."""
    if timer.overdue and timer.spec.kind in ALARMING:
        return True
    return timer.spec.most is not None and ran > timer.spec.most + TOLERANCE


def held_for(timer: RunningTimer, at: float) -> float:
    """Seconds that `timer` still forbids its own end; 0 when it does not."""
    if timer.spec.kind not in HOLDING or timer.least is None:
        return 0.0
    left = timer.started + timer.least - at
    return left if left > TOLERANCE else 0.0


def next_ring(timer: RunningTimer) -> tuple[float, Ring] | None:
    """When `timer` rings next and for what, or None when it has said all."""
    due: list[tuple[float, Ring]] = []
    if timer.spec.warn is not None and not timer.warned:
        due.append((timer.started + timer.spec.warn, Ring.WARN))
    if timer.least is not None and not timer.ripe:
        due.append((timer.started + timer.least, Ring.RIPE))
    if timer.spec.most is not None and not timer.overdue:
        due.append((timer.started + timer.spec.most, Ring.OVER))
    return min(due, key=lambda ring: (ring[0], ring[1].value)) if due else None


def first_ring(timers: Iterable[RunningTimer]) -> Due | None:
    """Return what rings first; at equal times the name that comes first in the alphabet."""
    rings = ((next_ring(timer), timer) for timer in timers)
    dues = [Due(ring[0], timer, ring[1]) for ring, timer in rings if ring is not None]
    return min(dues, key=lambda due: (due.due, due.timer.spec.name), default=None)


def next_due(state: SessionState) -> float | None:
    """When a timer rings or an open question lapses next; None when nothing waits for the clock."""
    if not state.live:
        return None
    first, asked = first_ring(state.timers), state.question
    dues = ([first.due] if first else []) + ([asked.lapses] if asked else [])
    return min(dues, default=None)


def next_reminder(state: SessionState) -> float | None:
    """When a passed maximum that nobody has answered is told again, or None.

    Reminders stand on a grid from the maximum on, so that none has to be remembered: they change
    nothing. In an emergency the procedure's own prompts are silent.
    """
    if not state.live or state.mode is Mode.EMERGENCY:
        return None
    ends = [_overdue_from(timer) for timer in state.timers if _nags(timer)]
    dues = (end + REMIND_EVERY * _rounds(end, state.now) + REMIND_EVERY for end in ends)
    return min(dues, default=None)


def reminded(state: SessionState, at: float) -> tuple[RunningTimer, ...]:
    """Return the timers of which a reminder falls due between the moment of `state` and `at`;
    each once, however long that is."""
    return tuple(
        timer
        for timer in state.timers
        if _nags(timer)
        and _rounds(_overdue_from(timer), at) > _rounds(_overdue_from(timer), state.now)
    )


def _nags(timer: RunningTimer) -> bool:
    return timer.overdue and timer.spec.kind in ALARMING and timer.spec.most is not None


def _overdue_from(timer: RunningTimer) -> float:
    return timer.started + (timer.spec.most or 0.0)


def _rounds(end: float, at: float) -> int:
    """Whole reminder rounds from `end` to `at`. A clock's rounding makes no round short."""
    return max(0, floor((at - end) / REMIND_EVERY + 1e-9))


def rung(timer: RunningTimer, ring: Ring) -> RunningTimer:
    """Mark `ring` as announced: a reminder may follow, a second announcement never."""
    if ring is Ring.WARN:
        return replace(timer, warned=True)
    if ring is Ring.RIPE:
        return replace(timer, ripe=True)
    return replace(timer, overdue=True, warned=True)


def with_ended(state: SessionState, names: frozenset[str]) -> SessionState:
    """Return `state` with the running timers called `names` ended now."""
    ending = tuple(timer for timer in state.timers if timer.spec.name in names)
    if not ending:
        return state
    left = tuple(timer for timer in state.timers if timer.spec.name not in names)
    kept = (*state.kept, *(ended(timer, state.now) for timer in ending))
    return replace(state, timers=left, kept=kept)


def with_started(state: SessionState, step: Step, again: bool = False) -> SessionState:
    """Return `state` with the timers of `step` started now. One already running under the same
    name is ended first: never two of one name. When the step is only confirmed `again` after an
    undo, a maximum keeps counting from the real start: saying it twice makes no fresh material.
    """
    running = {timer.spec.name for timer in state.timers if timer.step == step.id}
    specs = tuple(
        spec
        for spec in step.timers
        if not (again and spec.kind in ALARMING and spec.name in running)
    )
    fresh = tuple(started(spec, step.id, state) for spec in specs)
    state = with_ended(state, frozenset(spec.name for spec in specs))
    return replace(state, timers=(*state.timers, *fresh))
