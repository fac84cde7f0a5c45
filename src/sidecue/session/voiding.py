"""What goes with a fact that is voided."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from sidecue.session.state import Asking, SessionState
from sidecue.session.timers import with_ended


def without(state: SessionState, voids: Iterable[str]) -> SessionState:
    """Return `state` with the facts `voids` lost.

    Nothing before this can be undone and no question asked before it can be answered: what they
    rest on may no longer be true. A timer that would void only what is gone has nothing left to
    guard, so it ends: a capsule that was thrown away spoils no new one.
    """
    facts = state.facts.difference(voids)
    idle = frozenset(
        timer.spec.name
        for timer in state.timers
        if timer.spec.overdue_voids
        and not timer.overdue
        and facts.isdisjoint(timer.spec.overdue_voids)
    )
    asked = state.question
    if asked is not None and asked.about is not Asking.EMERGENCY_OVER:
        state = replace(state, question=None)
    return replace(with_ended(state, idle), facts=facts, history=(), standing=None)
