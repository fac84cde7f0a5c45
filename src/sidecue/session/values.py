"""Values by voice: what may be said now, how it is read back, and what a confirmed one does.

Saying a value only asks; a different word records it. All values of a slot are symmetric: which of
them is said changes nothing but the words and the count (`counting`), so that an exploration may
take any two of a slot for all of it (`fewer_values`).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace

from sidecue.procedure.plan import Cue, Plan, Slot, SlotValue, Step
from sidecue.procedure.slots import CARTRIDGES
from sidecue.session import counting
from sidecue.session.counting import Count
from sidecue.session.effects import Effect, Say, Urgency
from sidecue.session.prompts import Prompter, spoken
from sidecue.session.state import Asking, Question, SessionState, Value

STRIKE = "strike"


@dataclass(frozen=True, slots=True)
class Said:
    """A value cue: its slot, and the value; None for what disagrees with the plan."""

    slot: Slot
    value: SlotValue | None


class Values:
    """The slots of one plan."""

    def __init__(self, plan: Plan, prompts: Prompter) -> None:
        self._plan = plan
        self._prompts = prompts
        self._slots = {slot.id: slot for slot in plan.slots}
        self._by_cue = {v.cue.id: Said(slot, v) for slot in plan.slots for v in slot.values}
        for slot in plan.slots:
            if slot.others is not None:
                self._by_cue[slot.others.id] = Said(slot, None)
        self._strike = tuple(cue for cue in plan.cues if cue.id == STRIKE)
        self._open = stretches(plan)

    # -- looking ---------------------------------------------------------------------------------

    def said(self, cue: str) -> Said | None:
        """Return what a cue says a value of, or None when it is no value's."""
        return self._by_cue.get(cue)

    def cues(self, state: SessionState) -> tuple[Cue, ...]:
        """Return the cues of values that count at the step of `state`."""
        here = self._plan.step_index[state.step]
        asked = self._plan.steps[here].asks
        cues: list[Cue] = []
        for slot in self._plan.slots:
            topping_up = slot.id not in asked
            if topping_up and here not in self._open.get(slot.id, ()):
                continue
            cues += [v.cue for v in slot.values if v.topping_up or not topping_up]
            if slot.others is not None:
                cues.append(slot.others)
        struck = self._strike if self.last_struck(state) is not None else ()
        return (*cues, *struck)

    def instead(self, question: Question) -> tuple[Cue, ...]:
        """Return the cues that answer a read-back by another value of the same slot, which may
        follow a plain "no"."""
        slot = self._slots[question.target]
        others = [(v.cue, v.short) for v in slot.values if v.cue.id != question.cue]
        others += [] if slot.others is None else [(slot.others, "")]
        return tuple(_after_no(cue, short) for cue, short in others)

    def last_struck(self, state: SessionState) -> Value | None:
        """Return the entry that striking would take away here, or None."""
        here = self._plan.step_index[state.step]
        entries = [v for v in state.values if here in self._open.get(v.slot, ())]
        return entries[-1] if entries else None

    def words(self, value: Value) -> str:
        """Return a recorded value as it was read back, within a sentence."""
        return _inside(read_back(self._plan, value))

    def settled(self, state: SessionState, step: Step) -> bool:
        """Return whether `step` is done by the values that stand in `state`."""
        known = {value.slot for value in state.values}
        return step.settles and known.issuperset(step.asks)

    # -- deciding --------------------------------------------------------------------------------

    def question_of(self, value: SlotValue) -> str:
        """Return the question that reads a value back."""
        return self._prompts.text("ask-value", value=value.say)

    def disagreement(self, slot: Slot) -> tuple[str, tuple[Say, ...]]:
        """Return why another value than the plan's is refused, and the caution with it."""
        why = self._prompts.text("disagrees", value=slot.expected)
        caution = self._plan.caution_by_id.get(slot.caution)
        return why, () if caution is None else (Say(caution.say, Urgency.CAUTION),)

    def with_value(self, state: SessionState, said: Said) -> SessionState:
        """Return `state` with a confirmed value; in a slot of one, it replaces the last."""
        if said.value is None:
            raise ValueError(f"slot {said.slot.id!r}: what disagrees with the plan is never kept")
        slot, at = said.slot, state.now
        kept = tuple(v for v in state.values if slot.many or v.slot != slot.id)
        return replace(state, values=(*kept, Value(slot.id, said.value.value, at)))

    def told(self, state: SessionState, said: Said) -> tuple[Say, ...]:
        """Return what is said once a value stands in `state`."""
        slot, value = said.slot, said.value
        if value is None:
            return ()
        if slot.id == CARTRIDGES and self._plan.anaesthetic is not None:
            return Count(self._plan.anaesthetic, state.values).said(self._prompts, value.value)
        says = self._say("recorded", value=_inside(value.say))
        planned = planned_instead(self._plan, Value(slot.id, value.value, state.now))
        if planned:
            says += self._say("differs", Urgency.CAUTION, value=planned)
        return says

    def strike_asked(self, value: Value) -> str:
        """Return the question before an entry is struck."""
        return self._prompts.text("ask-strike", value=self.words(value))

    def struck(self, state: SessionState) -> tuple[SessionState, tuple[Effect, ...]]:
        """Return `state` without its last entry, and what is said."""
        last = self.last_struck(state)
        if last is None:
            raise ValueError("there is no entry to strike")
        values = tuple(each for each in state.values if each is not last)
        return replace(state, values=values), self._say("struck", value=self.words(last))

    def undone(self, before: SessionState, after: SessionState) -> str:
        """Return what an undo did to values, in words; empty when it did nothing to them."""
        was, now = Counter(before.values), Counter(after.values)
        gone = [self.words(v) for v in (was - now).elements()]
        again = [self.words(v) for v in (now - was).elements()]
        texts = [self._prompts.text("value-undone", value=words) for words in gone]
        texts += [self._prompts.text("value-restored", value=words) for words in again]
        return " ".join((*texts, *self._counted_again(before, after)))

    def _counted_again(self, before: SessionState, after: SessionState) -> tuple[str, ...]:
        """Return the count of anaesthetic anew, where an undo changed it and something is left."""
        was, now = (
            tuple(value for value in state.values if value.slot == CARTRIDGES)
            for state in (before, after)
        )
        if was == now or not now or self._plan.anaesthetic is None:
            return ()
        said = Count(self._plan.anaesthetic, after.values).said(self._prompts, now[-1].value)
        return tuple(each.text for each in said)

    def _say(self, key: str, urgency: Urgency = Urgency.ROUTINE, **words: str) -> tuple[Say, ...]:
        return tuple(Say(each, urgency) for each in spoken(self._prompts.text(key, **words)))


def read_back(plan: Plan, value: Value) -> str:
    """Return a recorded value as it was read back: `Shade A2`."""
    slot = next(slot for slot in plan.slots if slot.id == value.slot)
    return next(each.say for each in slot.values if each.value == value.value)


def planned_instead(plan: Plan, value: Value) -> str:
    """Return what the plan says where a recorded value differs from it; else nothing."""
    if value.slot == CARTRIDGES and plan.anaesthetic is not None:
        return counting.planned_instead(plan.anaesthetic, value.value)
    expected = next(slot.expected for slot in plan.slots if slot.id == value.slot)
    return "" if read_back(plan, value) == expected else _inside(expected)


def is_value(question: Question | None) -> bool:
    """Return whether a value was read back and waits for its confirmation."""
    return question is not None and question.about is Asking.VALUE


def stretches(plan: Plan) -> dict[str, range]:
    """Return the steps, by number, in which each slot of many takes entries."""
    found: dict[str, range] = {}
    for slot in (each for each in plan.slots if each.many):
        steps = list(enumerate(plan.steps))
        first = next((number for number, step in steps if slot.id in step.asks), 0)
        closing = [number for number, step in steps if slot.id in step.closes]
        found[slot.id] = range(first, max(closing, default=len(steps) - 1) + 1)
    return found


def fewer_values(plan: Plan, most: int = 2) -> Plan:
    """Return `plan` with at most so many values in each slot: for exploration, where they are
    symmetric."""
    slots = tuple(replace(slot, values=slot.values[:most]) for slot in plan.slots)
    return replace(plan, slots=slots)


def _after_no(cue: Cue, short: str) -> Cue:
    """Return `cue` with the phrases that say it after a plain "no"."""
    said = (*cue.phrases, short) if short else cue.phrases
    return replace(cue, phrases=(*cue.phrases, *(f"no {phrase}" for phrase in said)))


def _inside(say: str) -> str:
    return say[:1].lower() + say[1:]
