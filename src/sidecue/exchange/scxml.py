"""A plan as State Chart XML that behaves: W3C Recommendation *State Chart XML (SCXML): State
Machine Notation for Control Abstraction*, 1 September 2015.

Four regions run side by side: the `mode` (ready, running, paused, emergency, finished), the
`place` in the steps, the open `question`, and the `clock`. Facts, timers, values and the undo
checkpoints are data. Expressions keep to what ECMAScript and Python read alike, so that an
interpreter with either as its data model runs the document.

Time is data, not delayed sends: each event of ours carries its moment, and a reader sends
`time.passed` (data: `at`, seconds) before any event that comes later than the last. What rings by
then rings in order of time, inside the document, so that a run is the same however late its
clock. Events: `started` (data: `at`), `time.passed`, `restarted`, and `cue.` and a cue's id (a
decimal point in it as an underscore). An event that does not count now is dropped.

Carried over: steps, order, two-part steps; needs, establishes, voids; interlocks; timers of all
kinds with what they hold and spoil; happenings; emergencies; pause; values; skip and jump with
their reasons; undo of the last eight acts. Not carried over: anything spoken or shown (prompts
stand in attributes of another namespace), the words of a refusal, anaesthetic arithmetic, lost
devices, the moment each value was said, and the timers' verdicts for the record.
"""

from __future__ import annotations

from collections.abc import Iterable
from xml.etree.ElementTree import Element, SubElement

from sidecue.exchange import timer_fields as f
from sidecue.exchange.acts import NEVER, Acts, said
from sidecue.exchange.conditions import Cond, Known, both, either, flag, within
from sidecue.exchange.content import Content, entry, transition
from sidecue.exchange.guards import Guards
from sidecue.exchange.markup import document
from sidecue.exchange.questions import Questions, event_of
from sidecue.procedure.plan import Happening, Plan, Slot, Step, Tier
from sidecue.session.holds import Part
from sidecue.session.undoing import UNDO_DEPTH

NAMESPACE = "http://www.w3.org/2005/07/scxml"
OURS = "urn:sidecue:plan"
ASKED = ("skip", "jump", "step", "happening", "value", "strike", "emergency-over")
_RUNNING = "In('running')"
_FREE = "In('running') && In('silent')"
#: An event's name as plain text: an interpreter may keep more than the name in it.
NAME = "'' + _event.name"


def scxml(plan: Plan) -> str:
    """Return `plan` as an SCXML document.

    Raises ValueError, in one line, for a plan that may not start or cannot be told as a document.
    """
    return _Document(plan).text()


def place_of(step: Step, *, begun: bool) -> str:
    """Return the id of the state that stands for a step, or for one of its two parts."""
    if step.begin is None:
        return f"at.{step.id}"
    return f"at.{step.id}.{'begun' if begun else 'before'}"


class _Document:
    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._guards = Guards(plan)
        self._acts = Acts(plan, self._guards)
        self._asks = Questions(plan)
        self._known = Known.now(plan)
        self._reasons = " ".join(event_of(cue.id) for cue in plan.skip_reasons)
        self._alarms = [(each, event_of(each.cue.id)) for each in plan.emergencies]

    def text(self) -> str:
        root = Element(
            "scxml",
            {
                "xmlns": NAMESPACE, "xmlns:plan": OURS, "version": "1.0",
                "datamodel": "ecmascript", "initial": "session", "name": self._plan.procedure,
                "plan:title": self._plan.title, "plan:case": self._plan.case_line,
            },
        )  # fmt: skip
        self._data(root)
        session = SubElement(root, "parallel", {"id": "session"})
        self._mode(session)
        self._place(session)
        self._question(session)
        self._clock(session)
        return document(root)

    # -- data ------------------------------------------------------------------------------------

    def _data(self, root: Element) -> None:
        data = SubElement(root, "datamodel")

        def declare(name: str, value: str = "0", **notes: str) -> None:
            attributes = {f"plan:{key}": text for key, text in notes.items()}
            SubElement(data, "data", {"id": name, "expr": value, **attributes})

        for fact in self._acts.facts:
            declare(flag(fact), fact=self._plan.fact_by_id[fact].text)
        for name in self._acts.timers:
            declare(f.variable(name), timer=name)
        for name in self._acts.ran:
            declare(f.ran(name), f.NONE)
        for slot in self._acts.slots:
            declare(said(slot), "''")
        for number in range(1, UNDO_DEPTH + 1):
            declare(f"undo_{number}")
        most = max((len(step.timers) for step in self._plan.steps), default=0)
        for number in range(most):
            declare(f"old_{number}")
        zeros = (
            "now", "until", "spot", "standing", "lapses", "asked_to", "undo_depth", "kept",
            "least", "ran", "entries", "entry_count", "skips",
        )  # fmt: skip
        for name in zeros:
            declare(name)
        declare("goto", "-1")
        declare("next_at", NEVER)
        for name in ("asked_cue", "asked_slot", "done", "next_of", "next_ring"):
            declare(name, "''")

    # -- the mode --------------------------------------------------------------------------------

    def _mode(self, session: Element) -> None:
        mode = SubElement(session, "state", {"id": "mode", "initial": "ready"})
        ready = SubElement(mode, "state", {"id": "ready"})
        transition(ready, "started", target="running").let("now", "_event.data.at")
        live = SubElement(mode, "state", {"id": "live", "initial": "running"})
        for emergency, event in self._alarms:
            transition(live, event, target=f"emergency.{emergency.id}")
        running = SubElement(live, "state", {"id": "running"})
        transition(running, None, "In('end')", "finished")
        transition(running, event_of("pause"), target="paused")
        paused = SubElement(live, "state", {"id": "paused"})
        transition(paused, event_of("resume"), target="running")
        if self._alarms:
            first = f"emergency.{self._alarms[0][0].id}"
            worst = SubElement(live, "state", {"id": "emergency", "initial": first})
            over = "In('asked.emergency-over')"
            transition(worst, event_of("confirm"), over, "paused")
            for emergency, _ in self._alarms:
                notes = {"plan:says": " ".join(emergency.says), "plan:source": emergency.source}
                SubElement(worst, "state", {"id": f"emergency.{emergency.id}", **notes})
        SubElement(mode, "final", {"id": "finished"})

    # -- the place -------------------------------------------------------------------------------

    def _place(self, session: Element) -> None:
        steps = self._plan.steps
        region = SubElement(session, "state", {"id": "place", "initial": "steps"})
        # One state more than seems needed: an external transition from a region itself to a state
        # within it leaves, by the standard, every region beside it.
        place = SubElement(region, "state", {"id": "steps", "initial": f"at.{steps[0].id}"})
        transition(place, None, "goto >= 0", "moving")
        self._acts.undo(transition(place, event_of("undo"), f"{_FREE} && undo_depth > 0"))
        for happening in self._plan.happenings:
            asked = f"In('asked.happening') && asked_cue == '{event_of(happening.cue.id)}'"
            confirmed = transition(place, event_of("confirm"), asked)
            self._acts.go_back(confirmed, happening.back_to, happening.voids)
        value = transition(place, event_of("confirm"), "In('asked.value')")
        self._acts.checkpoint(value, entry=True)
        self._acts.record(value)
        struck = transition(place, event_of("confirm"), "In('asked.strike')")
        self._acts.checkpoint(struck, entry=True)
        struck.let("entries", "entries[0]")
        struck.let("entry_count", "entry_count - 1")
        self._left_out(place)
        for number, step in enumerate(steps):
            self._step(place, number, step)
        SubElement(region, "final", {"id": "end"})
        moving = SubElement(region, "state", {"id": "moving"})
        for number, step in enumerate(steps):
            transition(moving, None, f"goto == {2 * number}", place_of(step, begun=False))
            if step.begin is not None:
                transition(moving, None, f"goto == {2 * number + 1}", place_of(step, begun=True))
        transition(moving, None, f"goto == {2 * len(steps)}", "end").let("goto", "-1")

    def _left_out(self, place: Element) -> None:
        out = transition(place, self._reasons, "(In('asked.skip') || In('asked.jump'))")
        self._acts.checkpoint(out)
        out.let("skips", f"[skips, spot, asked_to, {NAME}]")
        out.let("standing", 0)
        out.let("goto", "asked_to")
        self._acts.end(out.when(f"asked_to == {2 * len(self._plan.steps)}"), self._acts.timers)

    def _step(self, place: Element, number: int, step: Step) -> None:
        after = self._plan.steps[number + 1 :]
        beyond = f"at.{after[0].id}" if after else "end"
        notes = {"plan:say": step.say, "plan:part": step.part}
        if step.begin is None:
            alone = SubElement(place, "state", {"id": f"at.{step.id}", **notes})
            self._arrive(alone, 2 * number)
            self._act(alone, step, "done", beyond)
            self._skip(alone, number)
            return
        before, begun = place_of(step, begun=False), place_of(step, begun=True)
        whole = SubElement(place, "state", {"id": f"at.{step.id}", "initial": before, **notes})
        first = SubElement(whole, "state", {"id": before})
        self._arrive(first, 2 * number)
        self._act(first, step, "begin", begun)
        self._skip(first, number)
        second = SubElement(whole, "state", {"id": begun})
        self._arrive(second, 2 * number + 1)
        self._act(second, step, "done", beyond)

    @staticmethod
    def _arrive(state: Element, spot: int) -> None:
        arrived = entry(state)
        arrived.let("spot", spot)
        arrived.let("goto", "-1")

    def _act(self, state: Element, step: Step, part: Part, target: str) -> None:
        own = step.begin if part == "begin" and step.begin is not None else step.done
        allowed = self._guards.acting(step, part)
        if own.tier is Tier.GUARDED:
            asking = transition(state, event_of(own.id), both(_FREE, allowed))
            asking.let("lapses", self._asks.told(step.say))
            asking.let("asked_cue", NAME)
            asking.tell("ask.step")
            asked = f"In('asked.step') && asked_cue == '{event_of(own.id)}'"
            told = transition(state, event_of("confirm"), both(asked, allowed), target)
        else:
            told = transition(state, event_of(own.id), both(_FREE, allowed), target)
        self._acts.act(told, step, part)
        if part == "done" and step.settles and step.asks:
            known = (either(self._has(slot), f"asked_slot == '{slot}'") for slot in step.asks)
            settled = both("In('asked.value')", *known, allowed)
            value = transition(state, event_of("confirm"), settled, target)
            self._acts.act(value, step, part, self._acts.record)

    def _skip(self, state: Element, number: int) -> None:
        allowed = both(_FREE, self._guards.leaving_out(number, number + 1))
        skip = transition(state, event_of("skip"), allowed)
        skip.let("lapses", self._asks.skip(number))
        skip.let("asked_cue", NAME)
        skip.let("asked_to", 2 * number + 2)
        skip.tell("ask.skip")

    def _has(self, slot: str) -> Cond:
        return f"{said(slot)} != ''" if slot in self._acts.slots else "entry_count > 0"

    # -- the question ----------------------------------------------------------------------------

    def _question(self, session: Element) -> None:
        question = SubElement(session, "state", {"id": "question", "initial": "silent"})
        silent = SubElement(question, "state", {"id": "silent"})
        closed = entry(silent)
        closed.let("lapses", 0)
        closed.let("asked_cue", "''")
        closed.let("asked_slot", "''")
        for about in ("skip", "step"):
            transition(silent, f"ask.{about}", target=f"asked.{about}")
        self._ask_jumps(silent)
        for happening in self._plan.happenings:
            self._ask_happening(silent, happening)
        for slot in self._plan.slots:
            self._ask_value(silent, slot)
        over = event_of("emergency-over")
        self._ask(silent, over, "In('emergency')", "emergency-over", self._asks.over())
        self._asked(question)

    @staticmethod
    def _ask(
        silent: Element, event: str, condition: Cond, about: str, lapses: str = ""
    ) -> Content:  # fmt: skip
        asked = transition(silent, event, condition, f"asked.{about}")
        asked.let("asked_cue", NAME)
        if lapses:
            asked.let("lapses", lapses)
        return asked

    def _ask_jumps(self, silent: Element) -> None:
        for ahead in self._asks.ahead():
            even = [spot for spot in ahead.spots if spot % 2 == 0]
            step, first = self._plan.steps[ahead.number], min(ahead.spots) // 2
            allowed = both(
                _RUNNING,
                within(even),
                self._guards.leaving_out(first, ahead.number),
                self._guards.acting(step, ahead.part, here=False),
            )
            jump = self._ask(silent, event_of(ahead.cue.id), allowed, "jump", self._asks.jump())
            jump.let("asked_to", 2 * ahead.number)

    def _ask_happening(self, silent: Element, happening: Happening) -> None:
        offered = either(*(self._known.of(fact) for fact in happening.while_any))
        never = both(*(f"{flag(fact)} == 0" for fact in happening.unless if self._known.of(fact)))
        lapses = self._asks.told(happening.say)
        condition = both(_RUNNING, offered, never)
        self._ask(silent, event_of(happening.cue.id), condition, "happening", lapses)

    def _ask_value(self, silent: Element, slot: Slot) -> None:
        for spots, events in self._asks.places(slot).items():
            condition = both(_RUNNING, within(spots), self._no_other(slot))
            asked = self._ask(silent, events, condition, "value")
            asked.let("asked_slot", f"'{slot.id}'")
            self._lapses(asked, self._asks.values(slot), "asked_cue")
        if slot.many:
            spots = self._asks.spots_of("strike")
            condition = both(_RUNNING, "entry_count > 0", within(spots))
            struck = self._ask(silent, event_of("strike"), condition, "strike")
            self._lapses(struck, self._asks.strikes(slot), "entries[1]")

    @staticmethod
    def _no_other(slot: Slot) -> Cond:
        return slot.others is None or f"_event.name != '{event_of(slot.others.id)}'"

    @staticmethod
    def _lapses(asked: Content, values: dict[str, tuple[str, ...]], which: str) -> None:
        """Let a question about a value lapse; saying a longer one takes longer."""
        usual, *others = sorted(values, key=lambda when: -len(values[when]))
        asked.let("lapses", usual)
        for when in others:
            these = either(*(f"{which} == '{event}'" for event in values[when]))
            asked.when(these).let("lapses", when)

    def _asked(self, question: Element) -> None:
        asked = SubElement(question, "state", {"id": "asked", "initial": "asked.skip"})
        transition(asked, None, "lapses == 0", "silent")
        transition(asked, event_of("pause"), _RUNNING, "silent")
        for events in (f"{event_of('deny')} restarted", *(event for _, event in self._alarms)):
            transition(asked, events, True, "silent")
        for about in ASKED:
            state = SubElement(asked, "state", {"id": f"asked.{about}"})
            reasoned = about in ("skip", "jump")
            transition(state, self._reasons if reasoned else event_of("confirm"), True, "silent")
            if about == "value":
                self._another_value(state)

    def _another_value(self, state: Element) -> None:
        for slot in self._plan.slots:
            about, events = f"asked_slot == '{slot.id}'", event_of(f"set.{slot.id}")
            if slot.others is not None:
                transition(state, event_of(slot.others.id), about, "silent")
            condition = both(about, "asked_cue != _event.name")
            again = transition(state, events, condition, "asked.value")
            again.let("asked_cue", NAME)
            self._lapses(again, self._asks.values(slot), "asked_cue")

    # -- the clock -------------------------------------------------------------------------------

    def _clock(self, session: Element) -> None:
        clock = SubElement(session, "state", {"id": "clock", "initial": "idle"})
        idle = SubElement(clock, "state", {"id": "idle"})
        told = transition(idle, "time.passed", "In('ready') == false", "ringing")
        told.let("until", "_event.data.at")
        self._acts.look_ahead(told)
        ringing = SubElement(clock, "state", {"id": "ringing"})
        ring = transition(ringing, None, "goto < 0 && next_at <= until")
        self._acts.ring(ring)
        self._acts.look_ahead(ring)
        transition(ringing, None, "goto < 0 && next_at > until", "idle").let("now", "until")


def states(plan: Plan) -> Iterable[str]:
    """Yield the ids of the states that stand for places, in the order of the steps."""
    for step in plan.steps:
        yield place_of(step, begun=False)
        if step.begin is not None:
            yield place_of(step, begun=True)
