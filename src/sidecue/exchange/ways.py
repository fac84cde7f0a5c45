"""Where a plan leads, for the drawings: from step to step, and back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sidecue.procedure.plan import Plan


@dataclass(frozen=True, slots=True)
class Way:
    """From one step to an earlier one, or to itself, and what sends the visit there."""

    start: str
    end: str
    why: str
    late: bool  # a maximum has passed; else something went wrong and was said


def ways_back(plan: Plan) -> Iterator[Way]:
    """Yield what leads back: each happening from the steps that bring about what it spoils, and
    each timer from the step that starts it."""
    for happening in plan.happenings:
        for step in plan.steps:
            if set(happening.while_any) & {*step.begin_establishes, *step.establishes}:
                yield Way(step.id, happening.back_to, happening.cue.phrases[0], late=False)
    for step in plan.steps:
        for timer in step.timers:
            if timer.overdue_back_to is not None:
                yield Way(step.id, timer.overdue_back_to, f"{timer.name} is over", late=True)
