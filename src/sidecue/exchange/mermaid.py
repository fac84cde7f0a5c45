"""A plan as a Mermaid state diagram (`stateDiagram-v2`): the steps in order, and the ways back."""

from __future__ import annotations

from collections.abc import Iterator

from sidecue.exchange.ways import ways_back
from sidecue.procedure.plan import Plan, Step


def mermaid(plan: Plan) -> str:
    """Return the plan as Mermaid text, one state for each step."""
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
    for way in ways_back(plan):
        yield f"    {_name(way.start)} --> {_name(way.end)}: {way.why}"


def _label(step: Step) -> str:
    timers = "".join(f" / {timer.name}" for timer in step.timers)
    return (step.say + timers).replace('"', "'").replace(":", " ")


def _name(identifier: str) -> str:
    return f"step_{identifier.replace('-', '_')}"  # a step called `end` or `note` is no keyword
