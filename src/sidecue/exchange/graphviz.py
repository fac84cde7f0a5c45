"""A plan as a drawing in the DOT language of Graphviz: the parts as boxes, the steps in order, the
ways back dashed, and what leads to a pause or an emergency from everywhere."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from sidecue.exchange.ways import ways_back
from sidecue.procedure.plan import Plan, Step


def graphviz(plan: Plan) -> str:
    """Return the plan as one directed graph."""
    return "\n".join(_lines(plan)) + "\n"


def _lines(plan: Plan) -> Iterator[str]:
    yield f"digraph {_quoted(plan.procedure)} {{"
    yield f"  label={_quoted(f'{plan.title}: {plan.case_line}')}; labelloc=t; fontname=sans;"
    yield "  node [shape=box, style=rounded, fontname=sans]; edge [fontname=sans, fontsize=10];"
    yield "  start [shape=point]; finished [shape=doublecircle];"
    for number, (part, steps) in enumerate(groupby(plan.steps, lambda step: step.part)):
        yield f"  subgraph cluster_{number} {{ label={_quoted(part)}; color=grey;"
        for step in steps:
            yield f"    {_quoted(f'step {step.id}')} [label={_quoted(_label(step))}];"
        yield "  }"
    names = [_quoted(f"step {step.id}") for step in plan.steps]
    yield f"  start -> {names[0]};"
    for step, here, there in zip(plan.steps, names, [*names[1:], "finished"], strict=True):
        yield f"  {here} -> {there} [label={_quoted(step.done.phrases[0])}];"
    for way in ways_back(plan):
        ends = f"{_quoted(f'step {way.start}')} -> {_quoted(f'step {way.end}')}"
        style = "dotted" if way.late else "dashed"
        yield f"  {ends} [label={_quoted(way.why)}, style={style}, constraint=false];"
    yield '  anywhere [label="at every step", shape=plaintext];'
    yield "  paused; anywhere -> paused [label=pause, dir=both];"
    for emergency in plan.emergencies:
        name = _quoted(f"emergency {emergency.id}")
        yield f"  {name} [shape=octagon, label={_quoted(emergency.id.replace('-', ' '))}];"
        yield f"  anywhere -> {name} [label={_quoted(emergency.cue.phrases[0])}];"
        yield f"  {name} -> paused [style=dashed];"
    yield "}"


def _label(step: Step) -> str:
    timers = [f"{timer.name}: {timer.kind.value}" for timer in step.timers]
    return "\n".join([step.say, *timers])


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
    return f'"{escaped}"'
