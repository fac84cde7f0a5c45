"""Words that every record uses alike."""

from __future__ import annotations

from sidecue.procedure.plan import Plan, TimerKind
from sidecue.record.story import TimerStory, ValueStory

STATEMENT = "Reminder and record aid; the licensed clinician decides, reads this and signs it."


def asked(timer: TimerStory) -> str:
    """Return what a timer was asked to run, in seconds."""
    least = timer.least if timer.least is not None else timer.spec.least
    if timer.spec.kind is TimerKind.COUNT_DOWN:  # it holds nothing back
        end = timer.spec.most if timer.spec.most is not None else least
        return "" if end is None else f"tell at {end:g} s"
    ends = (("at least", least), ("at most", timer.spec.most))
    return ", ".join(f"{words} {end:g} s" for words, end in ends if end is not None)


def told_value(value: ValueStory, ended: str) -> str:
    """Return a value as it was read back, what was planned where that differs, and, when it no
    longer stands, how and when it `ended`."""
    said = f"{value.say} (PLANNED {value.planned})" if value.planned else value.say
    return said if value.ended is None else f"{said}: {value.how.upper()} {ended}"


def phrase_of(plan: Plan, cue: str) -> str:
    """Return a cue's first phrase, or the words themselves when they are no cue."""
    step_cues = (each for step in plan.steps for each in (step.begin, step.done) if each)
    others = (happening.cue for happening in plan.happenings)
    values = (value.cue for slot in plan.slots for value in slot.values)
    refused = (slot.others for slot in plan.slots if slot.others is not None)
    for each in (*plan.cues, *plan.skip_reasons, *step_cues, *others, *values, *refused):
        if each.id == cue:
            return each.phrases[0]
    return cue
