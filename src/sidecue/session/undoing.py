"""Undo: one utterance back. It takes back claims, never what was done to patient or material.

Taking back a claim also takes back what it did to timers: one it started never ran, one it ended
runs on (a "water on" that was misheard leaves the acid, and its clock, on the tooth). Where a
physical act stands, only the claim that the step is over is taken back, the timers are true, and
nothing before it can be undone: the facts undo would restore may no longer hold.
"""

from __future__ import annotations

from dataclasses import replace

from sidecue.procedure.plan import Plan, Step
from sidecue.session.state import Checkpoint, RunningTimer, SessionState

#: How many utterances can be undone, one after another.
UNDO_DEPTH = 8


def remembered(
    state: SessionState, before: SessionState, ended: tuple[RunningTimer, ...] = ()
) -> SessionState:
    """Return `state` with one more step back to `before`, by an act that ended `ended`."""
    point = _point(before, ended, entry=False)
    return replace(state, history=(*state.history, point)[-UNDO_DEPTH:], standing=None)


def entered(state: SessionState, before: SessionState) -> SessionState:
    """Return `state`, whose values alone differ from `before`, with one more step back to it."""
    point = _point(before, (), entry=True)
    return replace(state, history=(*state.history, point)[-UNDO_DEPTH:])


def _point(before: SessionState, ended: tuple[RunningTimer, ...], *, entry: bool) -> Checkpoint:
    return Checkpoint(
        before.step, before.under_way, before.facts, before.done, before.skips, before.now, ended,
        before.values, entry, before.standing,
    )  # fmt: skip


def taken_back(plan: Plan, state: SessionState) -> tuple[SessionState, str | None]:
    """Return the state one act back, and a physical fact that stands, or None.

    `state.history` must not be empty.
    """
    last = state.history[-1]
    if last.entry:
        return replace(state, values=last.values, history=state.history[:-1]), None
    undone = plan.steps[plan.step_index[last.step]]
    stands = frozenset(fact for fact in state.facts if plan.fact_by_id[fact].physical)
    gained = (*undone.begin_establishes, *undone.establishes)
    kept = next((fact for fact in gained if fact in stands - last.facts), None)
    back = replace(
        state, step=last.step, under_way=last.under_way, done=last.done, skips=last.skips,
        facts=last.facts | stands, history=state.history[:-1], standing=last.standing,
        values=last.values,
    )  # fmt: skip
    if kept is None:
        return _timers_back(back, undone, last), None
    facts = (last.facts & state.facts) | stands  # what the act voided stays void
    return replace(back, facts=facts, history=(), standing=undone.id), kept


def _timers_back(state: SessionState, undone: Step, last: Checkpoint) -> SessionState:
    """Return `state` without the timers that the act started, and with those that it ended."""
    names = {spec.name for spec in undone.timers}
    was = {(timer.spec.name, timer.started) for timer in last.ended}
    running = tuple(
        timer
        for timer in state.timers
        if not (timer.spec.name in names and timer.step == undone.id and timer.started == last.at)
    )
    kept = tuple(
        timer
        for timer in state.kept
        if (timer.name, timer.started) not in was
        and not (timer.name in names and timer.step == undone.id and timer.started == last.at)
    )
    return replace(state, timers=(*last.ended, *running), kept=kept)
