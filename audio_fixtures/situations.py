"""The moments of a visit in which a phrase is said: what the session is doing, and what may be
heard then.

A situation is named by data (`visit`, `at`, `part`, `after`), so that the manifest can hold it
and a test can bring the real session machine into it again.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from sidecue.assets import data_folder
from sidecue.procedure.loading import load_library, placed_case
from sidecue.procedure.plan import Cue, Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.session.events import CueGiven, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

VISITS = ("composite-46-mo", "amalgam-14-do")
PRACTICE = "example"
_LONG_ENOUGH = 0.5  # s beyond a timer's least


@dataclass(frozen=True, slots=True, order=True)
class Situation:
    """At step `at` of the case `visit`; `part` is "before" or "under-way"; then `after` was said.

    `speaking`: the tool's own voice is in the room, so only stop-tier cues count.
    """

    visit: str
    at: str
    part: str = "before"
    after: tuple[str, ...] = ()
    speaking: bool = False


@cache
def visit_plan(visit: str) -> Plan:
    """The plan of a shipped case in the example practice."""
    library = load_library(data_folder("flows"))
    practice = library.practices[PRACTICE]
    case = placed_case(library.cases[visit], practice.notation)
    return plan(library, choose_procedure(library, case, practice), case, practice)


@cache
def machine_of(visit: str) -> SessionMachine:
    """The machine that runs it."""
    return SessionMachine(visit_plan(visit))


@cache
def _walked(visit: str) -> dict[tuple[str, str], SessionState]:
    """The state at the beginning of each part of each step, in a visit without incident."""
    machine, plan_ = machine_of(visit), visit_plan(visit)
    state, _ = machine.step(machine.first(), Started(0.0))
    found: dict[tuple[str, str], SessionState] = {}
    while state.live:
        step = plan_.steps[plan_.step_index[state.step]]
        found.setdefault((state.step, "under-way" if state.under_way else "before"), state)
        state = _patient(machine, state, (step.id,), step.stops)
        begins = step.begin is not None and not state.under_way
        cue = step.begin.id if begins and step.begin else step.done.id
        was = (state.step, state.under_way)
        state, _ = machine.step(state, CueGiven(state.now, cue))
        if state.question is not None:  # a step that a slip must not end is read back first
            state, _ = machine.step(state, CueGiven(state.now, "confirm"))
        if state.live and (state.step, state.under_way) == was:
            raise ValueError(f"{visit}: {cue} led nowhere from {was}")
    return found


def _patient(
    machine: SessionMachine, state: SessionState, steps: tuple[str, ...], stops: tuple[str, ...]
) -> SessionState:
    """Wait as a careful assistant does, until no timer forbids what comes next."""
    ends = [
        timer.started + timer.least + _LONG_ENOUGH
        for timer in state.timers
        if timer.least is not None and (timer.step in steps or timer.spec.name in stops)
    ]
    until = max([state.now + 1.0, *ends])
    while (due := machine.next_deadline(state)) is not None and due <= until:
        state, _ = machine.step(state, TimePassed(max(due, state.now)))
    return machine.step(state, TimePassed(max(until, state.now)))[0]


def state_in(situation: Situation) -> SessionState:
    """The session's state. Raises KeyError for a step that the visit does not have."""
    machine, plan_ = machine_of(situation.visit), visit_plan(situation.visit)
    state = _walked(situation.visit)[situation.at, situation.part]
    step = plan_.steps[plan_.step_index[situation.at]]
    state = _patient(machine, state, (step.id,), step.stops)
    for cue in situation.after:
        state, _ = machine.step(state, CueGiven(state.now, cue))
    return state


def cues_in(situation: Situation) -> tuple[Cue, ...]:
    """The cues that count in the situation, whoever speaks."""
    return machine_of(situation.visit).cues_now(state_in(situation))


def parts(visit: str) -> tuple[Situation, ...]:
    """Every part of every step, in order."""
    return tuple(Situation(visit, at, part) for at, part in _walked(visit))
