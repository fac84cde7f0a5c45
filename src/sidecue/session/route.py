"""The route: one `transitions.Machine` per plan for the place in the steps, one for the mode.

Two regions that run side by side, as in a statechart: where in the procedure we are, and whether
it is running, paused or in an emergency. Keeping them apart keeps both linear in the number of
steps. Triggers are data, never bound attributes; no automatic transitions; no callbacks but the
guards, which look at the hold worked out beforehand and do nothing else.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import Enum
from functools import cache
from typing import Any

from transitions import Machine, State

from sidecue.procedure.plan import Plan
from sidecue.session.state import Mode

END = "end"
_UNDER_WAY = "/under-way"


class _Place:
    """What a machine moves: a bare holder, so that no trigger is ever bound to it."""

    __slots__ = ("state",)

    def __init__(self, state: str) -> None:
        self.state = state


def _free(event: Any) -> bool:
    """Guard: nothing holds this transition."""
    return event.kwargs.get("hold") is None


def _empty_machine(states: Sequence[str | Enum | State], initial: str) -> Machine:
    return Machine(
        model=None, states=list(states), initial=initial, auto_transitions=False, send_event=True
    )


def _mode_machine() -> Machine:
    machine = _empty_machine([mode.value for mode in Mode], Mode.READY.value)
    moves = (
        ("start", [Mode.READY], Mode.RUNNING),
        ("pause", [Mode.RUNNING], Mode.PAUSED),
        ("resume", [Mode.PAUSED], Mode.RUNNING),
        ("alarm", [Mode.RUNNING, Mode.PAUSED, Mode.EMERGENCY], Mode.EMERGENCY),
        # An emergency ends in a pause: going on is a decision of its own.
        ("over", [Mode.EMERGENCY], Mode.PAUSED),
        ("finish", [Mode.RUNNING], Mode.FINISHED),
    )
    for trigger, sources, dest in moves:
        machine.add_transition(trigger, [mode.value for mode in sources], dest.value)
    return machine


_MODES = _mode_machine()


@cache
def next_mode(mode: Mode, trigger: str) -> Mode:
    """Return the mode after `trigger`; it is always the same, and so is worked out once.

    Raises transitions.MachineError when it is not allowed.
    """
    place = _Place(mode.value)
    _MODES.events[trigger].trigger(place)
    return Mode(place.state)


class Route:
    """The steps of one plan as a machine."""

    def __init__(self, plan: Plan) -> None:
        states: list[str | Enum | State] = []
        for step in plan.steps:
            states.append(step.id)
            if step.begin is not None:
                states.append(step.id + _UNDER_WAY)
        self._machine = _empty_machine([*states, END], plan.steps[0].id)
        add = self._machine.add_transition
        following = [*(step.id for step in plan.steps[1:]), END]
        for step, after in zip(plan.steps, following, strict=True):
            last = step.id
            if step.begin is not None:
                last = step.id + _UNDER_WAY
                add("begin", step.id, last, conditions=[_free])
            add("done", last, after, conditions=[_free])
            add("skip", step.id, after, conditions=[_free])
        for happening in plan.happenings:
            start = states.index(happening.back_to)
            add(f"back-to:{happening.back_to}", states[start:], happening.back_to)
        for step in plan.steps:
            for timer in step.timers:
                if timer.overdue_back_to is not None:
                    start = states.index(timer.overdue_back_to)
                    add(f"back-to:{timer.overdue_back_to}", states[start:], timer.overdue_back_to)

    @property
    def machine(self) -> Machine:
        """The machine itself, for drawing and export."""
        return self._machine

    def move(
        self, step: str, under_way: bool, trigger: str, hold: object = None
    ) -> tuple[str, bool]:
        """Return (step id or END, under way) after `trigger`; unchanged when `hold` forbids it.

        Raises transitions.MachineError when no such move exists from here.
        """
        place = _Place(step + _UNDER_WAY if under_way else step)
        self._machine.events[trigger].trigger(place, hold=hold)
        at = place.state
        return (at.removesuffix(_UNDER_WAY), True) if at.endswith(_UNDER_WAY) else (at, False)
