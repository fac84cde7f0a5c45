"""The advice read aloud and the advice printed are one, whatever was done twice or taken back."""

from __future__ import annotations

from dataclasses import replace

from hypothesis import given, settings
from random_events import event_lists, taken
from small_visit import small_plan
from whole_visits import GOOD, SALIVA

from sidecue.procedure.plan import Advice
from sidecue.record.telling import tell
from sidecue.session.advising import CALL, Advising, advice_after
from sidecue.session.effects import Say
from sidecue.session.events import CueGiven, Event
from sidecue.session.prompts import sentences

RINSED = "The acid was rinsed off."
PLAN = replace(small_plan(), advice=(*small_plan().advice, Advice(RINSED, "test", ("rinsed",))))


def aloud_and_printed(events: list[Event]) -> tuple[list[str], list[str]]:
    """Return the advice at the end of `events`, as it is said and as it is written."""
    state, accepted = taken(PLAN, events)
    said = [effect.text for effect in Advising(PLAN).says(state) if isinstance(effect, Say)]
    texts = (*advice_after(PLAN, tell(PLAN, accepted).confirmed), CALL)
    return said, [one for text in texts for one in sentences(text)]


def rinsed_twice() -> list[Event]:
    """Saliva on the rinsed cavity, etched and rinsed again: up to the second rinse."""
    last = max(n for n, e in enumerate(SALIVA) if isinstance(e, CueGiven) and e.cue == "rinse-done")
    return list(SALIVA[: last + 1])


def test_taking_back_the_second_time_leaves_the_first() -> None:
    events = rinsed_twice()
    said, printed = aloud_and_printed([*events, CueGiven(events[-1].at + 1.0, "undo")])
    assert said == printed
    assert RINSED in printed


def test_taking_back_the_only_time_leaves_nothing() -> None:
    said, printed = aloud_and_printed([*GOOD[:14], CueGiven(55.0, "undo")])
    assert said == printed
    assert RINSED not in printed


@settings(max_examples=150, deadline=None)
@given(event_lists())
def test_in_any_visit_both_say_the_same(events: list[Event]) -> None:
    said, printed = aloud_and_printed(events)
    assert said == printed
