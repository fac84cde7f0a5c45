"""Every sentence a plan's session can say about its steps and facts, measured once.

An exploration hears what is said where it walks; plans that differ in words alone it walks once, so
their words are measured here.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator
from functools import cache

from sidecue.procedure.plan import Plan, Step
from sidecue.procedure.words import MOST_WORDS
from sidecue.session.prompts import Prompter, short_name, spoken

_NAMED = ("ask-skip", "skipped", "undone", "next")
_PROMPTED = ("resumed", "restarted", "ask-happening")
_RINGS = ("timer-ripe", "timer-over")


def too_long(made: Plan, measured: set[Hashable]) -> Iterator[str]:
    """Yield each prompt that is longer than a prompt may be. `measured` keeps what was looked at,
    between plans of one library."""
    prompter = Prompter(made)
    for step in made.steps:
        key = (step.id, step.say, step.hand, step.cautions, step.timers,
               step.begin and step.begin.phrases, len(made.steps))  # fmt: skip
        if key not in measured:
            measured.add(key)
            yield from filter(_long, _of_step(prompter, step, len(made.steps)))
    yield from filter(_long, prompter.tooth())
    if (made.rules, made.facts) not in measured:
        measured.add((made.rules, made.facts))
        yield from filter(_long, _of_holds(prompter, made))


def _of_step(prompter: Prompter, step: Step, steps: int) -> Iterator[str]:
    yield from (say.text for say in prompter.announce(step, None))
    name = short_name(step.id)
    for key in _NAMED:
        yield from spoken(prompter.text(key, step=name))
    for key in _PROMPTED:
        yield from spoken(prompter.text(key, prompt=step.say))
    yield from spoken(prompter.text("status", count=str(steps), prompt=step.say))
    if step.begin is not None:
        yield from spoken(prompter.text("begin-first", step=step.begin.phrases[0]))
    for timer in step.timers:
        name = short_name(timer.name).capitalize()
        for key in _RINGS:
            yield from spoken(prompter.text(key, name=name))
        for key in ("timer-warn", "timer-left"):
            yield from spoken(prompter.text(key, name=name, seconds="999"))
        yield from spoken(timer.overdue_say)


def _of_holds(prompter: Prompter, made: Plan) -> Iterator[str]:
    for rule in made.rules:
        yield from spoken(rule.say)
    for fact in made.facts:
        for key in ("missing", "cannot-skip"):
            yield from spoken(prompter.text(key, fact=fact.text))


@cache
def _long(text: str) -> bool:
    return len(text.split()) > MOST_WORDS
