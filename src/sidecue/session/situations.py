"""Which cues are active together: every situation of a plan that its happy path comes through.

Each step is met with the facts that hold there when everything before it was done; beside the
running session also paused, in an emergency, and with each kind of question open.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sidecue.procedure.plan import Cue, Plan
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Asking, Mode, Question, SessionState

#: Whatever is asked about a step, a happening or a jump is answered by the same cues.
_ASKED = (Asking.SKIP, Asking.JUMP, Asking.HAPPENING, Asking.EMERGENCY_OVER, Asking.STRIKE)


def situations(plan: Plan) -> Iterator[tuple[str, tuple[Cue, ...]]]:
    """Yield a name for each situation and the cues that count in it, equal ones once."""
    machine = SessionMachine(plan)
    met: set[tuple[str, ...]] = set()
    for name, state in states(plan):
        cues = machine.cues_now(state)
        sign = tuple(cue.id for cue in cues)
        if sign not in met:
            met.add(sign)
            yield name, cues


def states(plan: Plan) -> Iterator[tuple[str, SessionState]]:
    """Yield a name for each situation and a state in it; several may hear the same cues."""
    state = replace(SessionMachine(plan).first(), mode=Mode.RUNNING)
    facts: frozenset[str] = frozenset()
    for step in plan.steps:
        here = replace(state, step=step.id, facts=facts)
        yield f"step {step.id}", here
        if step.begin is not None:
            facts = facts.difference(step.begin_voids).union(step.begin_establishes)
            here = replace(here, facts=facts, under_way=True)
            yield f"step {step.id}", here
        facts = facts.difference(step.voids).union(step.establishes)
    first = replace(state, step=plan.steps[0].id)
    yield "a pause", replace(first, mode=Mode.PAUSED)
    yield "an emergency", replace(first, mode=Mode.EMERGENCY)
    for about in _ASKED:
        yield f"a question ({about.value})", replace(first, question=_question(about, "", ""))
    for slot in plan.slots:
        for value in slot.values[:1]:
            asked = _question(Asking.VALUE, slot.id, value.cue.id)
            yield f"a value read back ({slot.id})", replace(first, question=asked)


def _question(about: Asking, target: str, cue: str) -> Question:
    return Question(about=about, target=target, cue=cue, lapses=float("inf"), say="")
