"""A plan as a lesson: for each step what to do, how to hand over, why, and what to watch.

Pure: the same plan gives the same lines. Who speaks them, and how fast, is `shadowing`'s part.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from sidecue.procedure.plan import Plan, Step, TimerKind, TimerSpec


class LineKind(StrEnum):
    """What a line of a lesson is for."""

    OPENING = "opening"
    STEP = "step"
    HAND = "hand"
    WHY = "why"
    CAUTION = "caution"
    TIMER = "timer"
    CLOSING = "closing"


@dataclass(frozen=True, slots=True)
class LessonLine:
    """One thing to say. `step` is the step's id, empty for the opening and the closing."""

    step: str
    kind: LineKind
    text: str


DEFERENCE = "The IFU, your office and the licensed clinician always come first."

#: How each kind of pass is said; {items} are the instruments.
_PASSES = {
    "pair": "Hand the {items} together.",
    "two-handed": "Pass the {items} with both hands.",
    "hidden": "Pass the {items} low, out of the patient's sight.",
    "placed": "Have the {items} ready in place.",
    "single": "Hand the {items}.",
}


def lesson(plan: Plan) -> tuple[LessonLine, ...]:
    """Return the lesson of `plan`, in order. A plan with open questions can be taught too.

    A caution is explained in full the first time and named from then on.
    """
    lines = [
        LessonLine("", LineKind.OPENING, f"{plan.title}. {_sentence(plan.tooth_spoken)}"),
        LessonLine("", LineKind.OPENING, DEFERENCE),
    ]
    explained: set[str] = set()
    for step in plan.steps:
        lines += _step_lines(plan, step, explained)
    lines.append(LessonLine("", LineKind.CLOSING, f"That was {len(plan.steps)} steps. Well done."))
    return tuple(lines)


def _step_lines(plan: Plan, step: Step, explained: set[str]) -> Iterator[LessonLine]:
    yield LessonLine(step.id, LineKind.STEP, step.say)
    for text in hand_over(plan, step):
        yield LessonLine(step.id, LineKind.HAND, text)
    yield LessonLine(step.id, LineKind.WHY, _sentence(step.why))
    for spec in step.timers:
        if text := _timer(spec):
            yield LessonLine(step.id, LineKind.TIMER, text)
    for name in step.cautions:
        caution = plan.caution_by_id[name]
        full = caution.say if name in explained else f"{caution.say} {_sentence(caution.text)}"
        explained.add(name)
        yield LessonLine(step.id, LineKind.CAUTION, full)


def hand_over(plan: Plan, step: Step) -> tuple[str, ...]:
    """Return how the instruments of `step` are handed, one sentence for each way of passing, in
    the order in which they are first wanted."""
    ways: dict[str, list[str]] = {}
    for instrument in step.hand:
        item = plan.tray_by_id[instrument]
        ways.setdefault(item.passing, []).append(item.spoken)
    sentences = []
    for way, items in ways.items():
        alone = way == "pair" and len(items) == 1  # its partner is in the other hand already
        joint = ", then the " if way == "single" else " and the "
        sentences.append(_PASSES["single" if alone else way].format(items=joint.join(items)))
    return tuple(sentences)


def _timer(spec: TimerSpec) -> str:
    name = spec.name.replace("-", " ")
    least, most = _seconds(spec.least), _seconds(spec.most)
    if spec.kind is TimerKind.COUNT_DOWN:
        end = most or least
        return f"The {name} timer tells the time: {end}." if end else ""
    limits = [f"at least {least}"] if least else []
    limits += [f"at most {most}"] if most else []
    return f"The {name} timer: {', '.join(limits)}." if limits else ""


def _seconds(time: float | None) -> str:
    if time is None:
        return ""
    return "1 second" if time == 1 else f"{time:g} seconds"


def _sentence(text: str) -> str:
    capital = text[:1].upper() + text[1:]
    return capital if capital.endswith((".", "!", "?")) else f"{capital}."
