"""What a plan listens for and asks, place by place: the real machine is asked, once for each."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import pairwise

from sidecue.procedure.plan import Cue, Plan, Slot
from sidecue.session.holds import Part
from sidecue.session.machine import SessionMachine
from sidecue.session.prompts import Prompter, lasts_about, short_name
from sidecue.session.state import Mode, SessionState, Value
from sidecue.session.voicing import ANSWER_WITHIN

_DECIMAL = re.compile(r"(?<=[0-9])\.(?=[0-9])")


def event_of(cue: str) -> str:
    """Return the event that stands for a cue.

    A dot separates an event's tokens, and its first tokens alone match it too: `2.5` would be
    taken for `2`, so that a decimal point is written as an underscore.
    """
    return f"cue.{_DECIMAL.sub('_', cue)}"


def lapse(say: str) -> str:
    """Return when a question asked now lapses."""
    return f"now + {lasts_about(say)!r} + {ANSWER_WITHIN!r}"


@dataclass(frozen=True, slots=True)
class Ahead:
    """A later step's cue, and the places where it is listened for."""

    number: int
    part: Part
    cue: Cue
    spots: tuple[int, ...]


class Questions:
    """The cues of one plan. Raises ValueError where a plan cannot be told as a document."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self._prompts = Prompter(plan)
        self._machine = SessionMachine(plan)
        self._heard: dict[str, set[int]] = {}
        self._refuse_what_cannot_be_told()
        for spot, state in self._places():
            for cue in self._machine.cues_now(state):
                self._heard.setdefault(cue.id, set()).add(spot)

    def spots_of(self, cue: str) -> tuple[int, ...]:
        """Return the places where `cue` is listened for while nothing is asked."""
        return tuple(sorted(self._heard.get(cue, ())))

    def ahead(self) -> Iterator[Ahead]:
        """Yield the later steps' cues that can lead to a jump."""
        for number, step in enumerate(self.plan.steps):
            part: Part = "done" if step.begin is None else "begin"
            cue = step.begin or step.done
            spots = tuple(spot for spot in self.spots_of(cue.id) if spot < 2 * number)
            if spots:
                yield Ahead(number, part, cue, spots)

    def places(self, slot: Slot) -> dict[tuple[int, ...], str]:
        """Return the events of a slot's values by where they are listened for."""
        found: dict[tuple[int, ...], list[str]] = {}
        for value in slot.values:
            found.setdefault(self.spots_of(value.cue.id), []).append(event_of(value.cue.id))
        if len(found) == 1:  # the first tokens of an event stand for all that begin with them
            return {spots: event_of(f"set.{slot.id}") for spots in found}
        return {spots: " ".join(events) for spots, events in found.items()}

    # -- how long a question stands --------------------------------------------------------------

    def skip(self, number: int) -> str:
        """Return when the question about skipping step `number` lapses."""
        name = short_name(self.plan.steps[number].id)
        return lapse(self._prompts.text("ask-skip", step=name))

    def jump(self) -> str:
        """Return when the question about a jump lapses; how far it goes is one word."""
        return lapse(self._prompts.text("ask-jump", count="2"))

    def told(self, say: str) -> str:
        """Return when the question that reads back a step or a happening lapses."""
        return lapse(self._prompts.text("ask-happening", prompt=say))

    def over(self) -> str:
        """Return when the question whether an emergency is over lapses."""
        return lapse(self._prompts.text("ask-emergency-over"))

    def values(self, slot: Slot) -> dict[str, tuple[str, ...]]:
        """Return the events of a slot's values by when their question lapses."""
        found: dict[str, tuple[str, ...]] = {}
        for value in slot.values:
            when = lapse(self._prompts.text("ask-value", value=value.say))
            found[when] = (*found.get(when, ()), event_of(value.cue.id))
        return found

    def strikes(self, slot: Slot) -> dict[str, tuple[str, ...]]:
        """Return the events of a slot's values by when the question to strike one lapses."""
        found: dict[str, tuple[str, ...]] = {}
        for value in slot.values:
            words = value.say[:1].lower() + value.say[1:]
            when = lapse(self._prompts.text("ask-strike", value=words))
            found[when] = (*found.get(when, ()), event_of(value.cue.id))
        return found

    # -- the places ------------------------------------------------------------------------------

    def _places(self) -> Iterator[tuple[int, SessionState]]:
        many = next((slot for slot in self.plan.slots if slot.many), None)
        entries = () if many is None else (Value(many.id, many.values[0].value, 0.0),)
        state = replace(self._machine.first(), mode=Mode.RUNNING, values=entries)
        for number, step in enumerate(self.plan.steps):
            yield 2 * number, replace(state, step=step.id)
            if step.begin is not None:
                yield 2 * number + 1, replace(state, step=step.id, under_way=True)

    def _refuse_what_cannot_be_told(self) -> None:
        if sum(slot.many for slot in self.plan.slots) > 1:
            raise ValueError("two slots take several entries; a document keeps only one such list")
        cues = [cue for step in self.plan.steps for cue in (step.begin, step.done) if cue]
        cues += [value.cue for slot in self.plan.slots for value in slot.values]
        now_and_then = {
            phrase: happening.cue.id
            for happening in self.plan.happenings
            for phrase in happening.cue.phrases
        }
        for cue in cues:
            taken = [now_and_then[phrase] for phrase in cue.phrases if phrase in now_and_then]
            if taken:
                raise ValueError(f"{cue.id} and {taken[0]} share a phrase; mend it, then export")
        events = sorted({event_of(cue.id) for cue in cues})
        for one, other in pairwise(events):
            if other.startswith(f"{one}."):
                raise ValueError(f"the event {one} would be taken for {other}")
