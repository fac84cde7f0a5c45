"""A plan as a Mermaid state diagram: the steps in order, and where what goes wrong leads back."""

from __future__ import annotations

from collections.abc import Iterator

from sidecue.procedure.plan import Plan, Step


def mermaid(plan: Plan) -> str:
    """Return the plan as Mermaid text (`stateDiagram-v2`), one state for each step."""
    return "\n".join(_lines(plan)) + "\n"


def _lines(plan: Plan) -> Iterator[str]:
    yield "stateDiagram-v2"
    for step in plan.steps:
        yield f'    state "{_label(step)}" as {_name(step.id)}'
    names = [_name(step.id) for step in plan.steps]
    places = zip(["[*]", *names], [*names, "[*]"], strict=True)
    cues = [None, *(step.done for step in plan.steps)]
    for (here, there), cue in zip(places, cues, strict=True):
        yield f"    {here} --> {there}" + ("" if cue is None else f": {cue.phrases[0]}")
    for happening in plan.happenings:
        gained = [
            number
            for number, step in enumerate(plan.steps)
            if set(happening.while_any) & {*step.begin_establishes, *step.establishes}
        ]
        for number in gained:
            phrase = happening.cue.phrases[0]
            yield f"    {names[number]} --> {_name(happening.back_to)}: {phrase}"


def _label(step: Step) -> str:
    timers = "".join(f" / {timer.name}" for timer in step.timers)
    return (step.say + timers).replace('"', "'").replace(":", " ")


def _name(identifier: str) -> str:
    return identifier.replace("-", "_")
