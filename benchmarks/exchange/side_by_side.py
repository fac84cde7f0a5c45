"""One plan, two machines: ours, and its SCXML document in an independent interpreter.

The interpreter is that of python-statemachine (PyPI, MIT), which loads SCXML and has nothing to
do with ours. Both are told the same events; after each, what they hold is compared field by field.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from statemachine.event import Event as Named
from statemachine.io import load
from statemachine.model import Model

from sidecue.exchange.conditions import flag, gainable
from sidecue.exchange.questions import event_of
from sidecue.exchange.scxml import place_of, scxml
from sidecue.exchange.timer_fields import variable
from sidecue.procedure.plan import Plan
from sidecue.session.events import CueGiven, Event, Restarted, Started, TimePassed
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode, RunningTimer, SessionState

Facts = dict[str, Any]

# Whether a descriptor matches an event's name is asked some hundred times for each event, of the
# same few names. The interpreter's own answers are kept: it takes a third of the time.
_matches = Named.match
_answers: dict[tuple[str, str], bool] = {}


def _matched(descriptor: Named, name: str) -> bool:
    key = (str.__str__(descriptor), str(name))
    if key not in _answers:
        _answers[key] = _matches(descriptor, name)
    return _answers[key]


Named.match = _matched

#: What leads somewhere is tried more often than what changes nothing or ends in a pause.
_WEIGHTS = {
    "undo": 4.0, "skip": 4.0, "reason": 6.0, "happening": 3.0, "step": 3.0, "confirm": 3.0,
    "emergency": 0.4, "pause": 0.5, "repeat": 0.2, "what-next": 0.2, "how-long": 0.2,
    "which-tooth": 0.2, "status": 0.2, "advice": 0.2, "quiet": 0.2,
}  # fmt: skip

#: Fields of a timer's array that are compared: step, start, least, warned, ripe, overdue.
_COMPARED = (0, 1, 2, 5, 6, 7)


class Imported:
    """The document of one plan, read in again, and run."""

    def __init__(self, plan: Plan, document: str) -> None:
        self.plan = plan
        self._class = load(document, format="scxml")
        self._class.catch_errors_as_events = False  # an error of the document stops the run
        self._places = {
            place_of(step, begun=begun): (step.id, begun)
            for step in plan.steps
            for begun in ((False, True) if step.begin is not None else (False,))
        }
        self._facts = gainable(plan)
        self._timers = sorted({spec.name for step in plan.steps for spec in step.timers})
        self._one = [slot.id for slot in plan.slots if not slot.many]

        # The interpreter gives the data their first values once for each document it has loaded,
        # not once for each run of it: what it gave the first run is kept for the others.
        self._first = dict(vars(self._class().model))

    def begin(self) -> None:
        """Start from the document's first state."""
        model: Any = Model()
        vars(model).update({name: each for name, each in self._first.items() if name != "state"})
        self._machine = self._class(model)

    def take(self, event: Event) -> None:
        """Send one event, its moment before it."""
        if isinstance(event, Started):
            self._machine.send("started", at=event.at)
            return
        self._machine.send("time.passed", at=event.at)
        match event:
            case CueGiven():
                self._machine.send(event_of(event.cue))
            case Restarted():
                self._machine.send("restarted")

    def holds(self) -> Facts:
        """Return what the interpreter holds, in the words of a session's state."""
        model: Any = self._machine.model
        ids = {state.id for state in self._machine.configuration}
        mode = next(mode.value for mode in Mode if mode.value in ids)
        place = next((self._places[each] for each in ids if each in self._places), ("", False))
        asked = [each.removeprefix("asked.") for each in ids if each.startswith("asked.")]
        emergency = [each for each in ids if each.startswith("emergency.")]
        return {
            "mode": mode,
            "place": "end" if "end" in ids else place,
            "facts": frozenset(fact for fact in self._facts if getattr(model, flag(fact))),
            "timers": {
                name: tuple(array[field] for field in _COMPARED)
                for name in self._timers
                if (array := getattr(model, variable(name)))
            },
            "question": (asked[0], model.asked_cue, model.lapses) if asked else None,
            "emergency": emergency[0].removeprefix("emergency.") if emergency else None,
            "values": {slot: value for slot in self._one if (value := getattr(model, f"v_{slot}"))},
            "entries": _unlinked(model.entries, model.entry_count),
            "done": tuple(self.plan.steps[int(each)].id for each in model.done.split()),
            "skips": self._skips(model.skips),
            "undoable": model.undo_depth,
            "standing": bool(model.standing),
            "now": model.now,
        }

    def _skips(self, linked: Any) -> tuple[tuple[str, str], ...]:
        found: list[tuple[str, str]] = []
        while linked:
            linked, first, beyond, reason = linked
            steps = self.plan.steps[first // 2 : beyond // 2]
            found[:0] = [(step.id, str(reason)) for step in steps]
        return tuple(found)


def _unlinked(linked: Any, count: int) -> tuple[str, ...]:
    found: list[str] = []
    while linked:
        linked, entry = linked
        found.insert(0, str(entry))
    if len(found) != count:
        raise AssertionError(f"{count} entries counted, {len(found)} kept")
    return tuple(found)


@dataclass(frozen=True)
class Ours:
    """Our machine, and what a state of it holds in the same words."""

    plan: Plan

    @cached_property
    def machine(self) -> SessionMachine:
        """The real machine."""
        return SessionMachine(self.plan)

    @cached_property
    def _cue_of(self) -> dict[tuple[str, str], str]:
        return {
            (slot.id, value.value): event_of(value.cue.id)
            for slot in self.plan.slots
            for value in slot.values
        }

    @cached_property
    def _many(self) -> frozenset[str]:
        return frozenset(slot.id for slot in self.plan.slots if slot.many)

    def holds(self, state: SessionState) -> Facts:
        """Return what `state` holds."""
        asked = state.question
        ended = state.mode is Mode.FINISHED
        said = [(value.slot, self._cue_of[value.slot, value.value]) for value in state.values]
        return {
            "mode": state.mode.value,
            "place": "end" if ended else (state.step, state.under_way),
            "facts": state.facts,
            "timers": {timer.spec.name: self._timer(timer) for timer in state.timers},
            "question": asked and (asked.about.value, event_of(asked.cue), asked.lapses),
            "emergency": state.emergency,
            "values": {slot: cue for slot, cue in said if slot not in self._many},
            "entries": tuple(cue for slot, cue in said if slot in self._many),
            "done": state.done,
            "skips": tuple((skip.step, event_of(skip.reason)) for skip in state.skips),
            "undoable": len(state.history),
            "standing": state.standing is not None,
            "now": state.now,
        }

    def _timer(self, timer: RunningTimer) -> tuple[float, ...]:
        least = -1.0 if timer.least is None else timer.least
        marks = (int(timer.warned), int(timer.ripe), int(timer.overdue))
        return (self.plan.step_index[timer.step], timer.started, least, *marks)


@dataclass(frozen=True)
class Disagreement:
    """The first event after which the two hold different things."""

    event: Event
    number: int
    legal: bool
    fields: tuple[tuple[str, Any, Any], ...]  # name, ours, theirs


class SideBySide:
    """Drives both machines of one plan; `document` is its state chart, unless another is given."""

    def __init__(self, plan: Plan, document: str | None = None) -> None:
        self.plan = plan
        self.ours = Ours(plan)
        self.theirs = Imported(plan, document or scxml(plan))
        self.events = 0
        self.happened: Counter[str] = Counter()

    def run(self, seed: int, most: int | None = None) -> Disagreement | None:
        """Drive one random sequence of at most `most` events; return where they part, or None.

        Without `most`, one in three is long enough to come to the end of the procedure.
        """
        chance = random.Random(seed)
        long = chance.random() < 1 / 3
        most = most or 20 + len(self.plan.steps) * (2 if long else 1)
        state = self.ours.machine.first()
        self.theirs.begin()
        wild = chance.randrange(most if long else most // 2)
        for number in range(most):
            event = next_event(self.ours.machine, state, chance, wild=number >= wild)
            before = state
            state, legal = told(self.ours.machine, before, event)
            self.theirs.take(event)
            self.events += 1
            self.happened.update(self._happenings(before, state, event, legal=legal))
            ours, theirs = self.ours.holds(state), self.theirs.holds()
            if ours != theirs:
                parted = tuple(
                    (name, ours[name], theirs[name]) for name in ours if ours[name] != theirs[name]
                )
                return Disagreement(event, number, legal, parted)
            if state.mode is Mode.FINISHED and chance.random() < 0.5:
                break
        return None

    def _happenings(
        self, before: SessionState, after: SessionState, event: Event, *, legal: bool
    ) -> Iterator[str]:
        index, undo = self.plan.step_index, isinstance(event, CueGiven) and event.cue == "undo"
        changes = {
            "not listened for": not legal,
            "step done": len(after.done) > len(before.done),
            "left out": len(after.skips) > len(before.skips),
            "undone": undo and len(after.history) < len(before.history),
            "undone, physical fact stands": undo and after.standing is not None,
            "went back": not undo and index[after.step] < index[before.step],
            "question asked": after.question is not None and after.question != before.question,
            "question lapsed": before.question is not None and after.now >= before.question.lapses,
            "timer rang": any(timer.overdue or timer.ripe for timer in after.timers),
            "value recorded": len(after.values) > len(before.values),
            "paused": after.mode is Mode.PAUSED and before.mode is Mode.RUNNING,
            "emergency": after.emergency is not None and after.emergency != before.emergency,
            "restarted": isinstance(event, Restarted),
            "finished": after.mode is Mode.FINISHED and before.mode is Mode.RUNNING,
        }
        return (name for name, true in changes.items() if true)


def told(
    machine: SessionMachine, state: SessionState, event: Event
) -> tuple[SessionState, bool]:  # fmt: skip
    """Return our state after `event`. An event that does not count still lets its time pass."""
    try:
        return machine.step(state, event)[0], True
    except IllegalEvent:
        return machine.step(state, TimePassed(event.at))[0], False


def next_event(
    machine: SessionMachine, state: SessionState, chance: random.Random, *, wild: bool
) -> Event:
    """Return what happens next: mostly what leads on, and once it goes `wild`, anything."""
    if state.mode is Mode.READY:
        return Started(0.0)
    at = state.now + chance.choice(_waits(machine, state, chance))
    every = list(_cues(machine.plan))
    dice = chance.random()
    if dice < (0.04 if wild else 0.01) or state.mode is Mode.FINISHED:
        return chance.choice([TimePassed(at), Restarted(at)] if state.live else [TimePassed(at)])
    if dice < (0.08 if wild else 0.02):
        return CueGiven(at, chance.choice(every))
    cues = [cue.id for cue in machine.cues_now(state)]
    own = machine.plan.steps[machine.plan.step_index[state.step]]
    asked = [cue for cue in cues if cue.startswith(tuple(f"set.{slot}." for slot in own.asks))]
    if asked and state.question is None and chance.random() < 0.5:
        return CueGiven(at, chance.choice(asked))
    leading = [cue for cue in cues if cue in (own.done.id, own.begin and own.begin.id)]
    leading += [cue for cue in cues if cue in ("confirm", "resume", "emergency-over")]
    if leading and dice < (0.45 if wild else 0.96):
        if state.question is not None and chance.random() < 0.8:  # answered while it stands
            return CueGiven(state.now + 1.0, leading[0])
        deadline = machine.next_deadline(state)
        patient = deadline is not None and chance.random() < 0.6
        moment = max(at, deadline) if patient and deadline is not None else at
        return CueGiven(moment, leading[0])
    grouped: dict[str, list[str]] = {}
    for cue in cues:
        grouped.setdefault(_kind(machine.plan, cue), []).append(cue)
    kinds = sorted(grouped)
    kind = chance.choices(kinds, [_WEIGHTS.get(kind, 1.0) for kind in kinds])[0]
    return CueGiven(at, chance.choice(grouped[kind]))


def _kind(plan: Plan, cue: str) -> str:
    if cue.startswith("set."):
        return ".".join(cue.split(".")[:2])
    if cue.startswith(("emergency.", "happening.")):
        return cue.split(".", maxsplit=1)[0]
    if any(cue in (step.done.id, step.begin and step.begin.id) for step in plan.steps):
        return "step"
    if any(cue == each.id for each in plan.skip_reasons):
        return "reason"
    return cue


def _waits(machine: SessionMachine, state: SessionState, chance: random.Random) -> list[float]:
    waits = [0.0, 0.5, 1.0, 2.0, round(chance.uniform(0.0, 30.0), 3)]
    due = machine.next_deadline(state)
    if due is not None:
        left = max(0.0, due - state.now)
        waits += [left, left, left + 0.005, left + 7.3, max(0.0, left - 0.25)]
    if chance.random() < 0.05:
        waits.append(400.0)
    return waits


def _cues(plan: Plan) -> Iterator[str]:
    for step in plan.steps:
        yield step.done.id
        if step.begin is not None:
            yield step.begin.id
    for each in (*plan.happenings, *plan.emergencies):
        yield each.cue.id
    for cue in (*plan.cues, *plan.skip_reasons):
        yield cue.id
    for slot in plan.slots:
        yield slot.values[0].cue.id
        if slot.others is not None:
            yield slot.others.id
