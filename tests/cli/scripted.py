"""A whole visit as a script of phrases, made from its plan."""

from __future__ import annotations

from sidecue.hearing.text import BETWEEN, SECONDS_A_WORD
from sidecue.procedure.plan import Plan
from sidecue.session.events import CueGiven, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode, SessionState

PATIENCE = 1200  # seconds; no timer holds a step longer


def script_of(plan: Plan, most: int = 10_000) -> str:
    """Return what to say, a phrase a line and waits where a timer asks for them."""
    machine = SessionMachine(plan)
    state, _ = machine.step(machine.first(), Started(0.0))
    now, lines = 0.0, []
    while state.mode is not Mode.FINISHED and len(lines) < most:
        cue = _wanted(plan, state)
        phrase = cue.phrases[0]
        for wait in range(PATIENCE):
            waited = _clock(machine, state, now + wait + BETWEEN)
            said = phrase if machine.answering(waited) else f"{plan.address} {phrase}"
            at = now + wait + BETWEEN + SECONDS_A_WORD * len(said.split())
            after, _ = machine.step(_clock(machine, waited, at), CueGiven(at, cue.id))
            if _where(after) != _where(state):
                break
        else:
            raise AssertionError(f"{cue.id} is never taken")
        lines += [f"(wait {wait})", said] if wait else [said]
        state, now = after, at
    return "\n".join(lines)


def _wanted(plan: Plan, state: SessionState):
    step = plan.steps[plan.step_index[state.step]]
    if state.question is not None:
        return next(cue for cue in plan.cues if cue.id == "confirm")
    return step.begin if step.begin is not None and not state.under_way else step.done


def _where(state: SessionState):
    return state.step, state.under_way, state.mode, state.question


def _clock(machine: SessionMachine, state: SessionState, until: float) -> SessionState:
    while (due := machine.next_deadline(state)) is not None and due <= until:
        state, _ = machine.step(state, TimePassed(max(due, state.now)))
    return state
