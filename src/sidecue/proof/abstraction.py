"""Which states count as one: the abstraction of the exploration, and why it hides nothing.

A state is brought to a *standing form*: an ordinary `SessionState` that the real machine steps
from, in which everything that no decision of the machine reads is set to one fixed value. Two
states of one form behave alike from then on.

- **Time** is kept as order, not in seconds. A timer's region (which of its `least` and `most`
  have rung) decides every hold; the seconds within a region decide none, and differ from
  it only by the machine's own tolerance of a hundredth of a second. The form puts each timer into
  the middle of its region. Each timer that can ring next is then made to ring *first*, and an open
  question is made to lapse before and after any of them: all orders of ringing are walked, also
  those that these seconds forbid. That is more than can happen, so nothing is missed, and what is
  proven holds for any times a practice enters. What one timer owes to another's run
  (`no_less_than`) is checked where it starts.
- **Warnings** change words only. They are rung once, where their timer starts; a form has them
  behind it.
- **Pause and emergency** stand beside the work: in them no decision reads a fact but one, whether
  a timer that spoils something still has it to spoil. Forms of these modes differ by that alone;
  each comes back to the work it left, which is walked for all facts, and spoils it in the same
  way.
- **Count-downs** that no other timer refers to hold nothing and spoil nothing: they are left out.
  So is any timer that has rung all it has to ring.
- **Undo history** is not part of a form. Every act that can be undone is undone at once, where it
  happens, and must lead back to the form it came from; by induction, undoing several acts in a row
  leads through forms that are walked anyway. An undo and the clock commute: taking back restores
  and removes whole timers, whatever has rung meanwhile. What undo cannot take back (a physical
  act) gives a state of its own, which is walked.
- **Facts nobody can read again** are dropped: those that no step from here on (or from as far back
  as a happening or a spoiled material can lead) needs, no interlock on what such a step
  establishes names, no happening that can still come depends on and no timer voids. What
  leads back voids something: that is not read before it is established again. What a law of the
  proof reads where something is lost is read there.
- **Values** (shade, weight, cartridges): the machine asks only whether a slot that settles its
  step is known, and whether an entry is there to be struck. Two values of a slot stand for all.
- **Emergencies** and **skip reasons** are symmetric: the machine keeps which one it was for words
  only. Every state must listen for each emergency; one is given at every place and followed, each
  other at every step in every mode. Each skip reason is given at every place, and must lead to
  what the one that is followed leads to.
- **What reads neither facts nor timers** (free cues, stops and emergencies, a no, a restart, noise,
  a value that settles nothing) is tried once at each place: step, part, mode and kind of question.
  A later step's cue that was refused is not tried again with the same facts to judge it by.
- What was last said, which devices are away, what is done, left out or kept for the record decides
  nothing and is cleared.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import dataclass, replace

from sidecue.procedure.plan import Plan, Rule, Step, TimerKind, TimerSpec
from sidecue.proof.laws import barred_by, laws
from sidecue.session.state import (
    Asking,
    KeptTimer,
    Mode,
    Question,
    RunningTimer,
    SessionState,
    Value,
)

#: The second at which every form stands.
NOW = 100_000.0
#: A question of a form lapses so many seconds later: after anything else that is tried.
LATER = 50_000.0
#: Seconds between a made-first deadline and the event that passes it.
INSTANT = 0.001
_MIDDLE = 0.5

Form = tuple[object, ...]


@dataclass(frozen=True, slots=True)
class Region:
    """Where a timer stands: seconds since it began, between what has rung and what has not,
    warnings aside."""

    lower: float
    upper: float

    @property
    def middle(self) -> float:
        """A second that is neither end."""
        return self.lower + min(_MIDDLE, (self.upper - self.lower) / 2)


def region(timer: RunningTimer) -> Region:
    """Return the region of `timer` by what it has announced. Infinite when it has said all."""
    ends = ((timer.least, timer.ripe), (timer.spec.most, timer.overdue))
    lower = max((at for at, rung in ends if at is not None and rung), default=0.0)
    upper = min((at for at, rung in ends if at is not None and not rung), default=float("inf"))
    return Region(lower, max(lower, upper))


class Abstraction:
    """The forms of one plan's states; `rules` are what its properties read beside its own."""

    def __init__(self, plan: Plan, rules: Iterable[Rule] = ()) -> None:
        self.plan = plan
        self._touching: dict[str, list[Rule]] = {}
        for rule in dict.fromkeys((*plan.rules, *rules)):
            for fact in rule.never if rule.act is None else (rule.act, *rule.never):
                self._touching.setdefault(fact, []).append(rule)
        self.referred = frozenset(
            spec.no_less_than
            for step in plan.steps
            for spec in step.timers
            if spec.no_less_than is not None
        )
        self._many = frozenset(slot.id for slot in plan.slots if slot.many)
        self.first_value = {slot.id: slot.values[0].value for slot in plan.slots if slot.values}
        self.spoilable = _with_used_up(
            fact for step in plan.steps for spec in step.timers for fact in spec.overdue_voids
        )
        self.leading_back = tuple(self._leading_back())
        self.reads = _from_here([self.read_by(step) for step in plan.steps])
        self.ends = _from_here([{*each.voids, *each.begin_voids} for each in plan.steps])
        self.closing = frozenset(fact for each in plan.happenings for fact in each.unless)
        self._known_closed: dict[tuple[int, frozenset[str]], tuple[str, ...]] = {}
        self._known_ends: dict[tuple[int, tuple[str, ...]], frozenset[str]] = {}
        self._known_live: dict[tuple[int, tuple[str, ...]], frozenset[str]] = {}
        self.settling = self._settled_later()
        self._first_alarm = plan.emergencies[0].id if plan.emergencies else None

    def standing_form(self, state: SessionState) -> SessionState:
        """Return the state that stands for `state`."""
        if state.mode is Mode.FINISHED:
            return SessionState(mode=Mode.FINISHED, step=state.step, now=NOW)
        here = self.plan.step_index[state.step]
        timers = [self._timer(timer) for timer in state.timers if self._matters(timer, state)]
        kept = {timer.name for timer in state.kept} & self.referred
        return SessionState(
            mode=state.mode,
            step=state.step,
            now=NOW,
            under_way=state.under_way,
            facts=state.facts & self._kept_facts(state, here),
            values=self._values(state, here),
            timers=tuple(sorted(timers, key=lambda timer: timer.spec.name)),
            kept=tuple(KeptTimer(name, "", 0.0, 1.0, "kept") for name in sorted(kept)),
            question=self._question(state.question),
            emergency=None if state.emergency is None else self._first_alarm,
            standing=state.standing,
        )

    def form_of(self, state: SessionState) -> Form:
        """Return the key of the standing form of `state`: equal for states that count as one."""
        if state.mode is Mode.FINISHED:
            return (Mode.FINISHED,)
        here, beside = self.plan.step_index[state.step], state.mode is not Mode.RUNNING
        asked = state.question
        timers = [
            (t.spec.name, t.step, t.ripe, t.overdue, t.least is None)
            for t in state.timers
            if self._matters(t, state)
        ]
        return (
            state.step,
            state.mode,
            state.under_way,
            state.facts & (self.spoilable if beside else self._read(state, here)),
            () if beside else self._closed(state, here),
            tuple(sorted(timers)),
            None if asked is None else self._asked(asked),
            None if beside else state.standing,
            () if beside else tuple(sorted({v.slot for v in state.values} & self.settling[here])),
            () if beside else tuple(sorted({timer.name for timer in state.kept} & self.referred)),
        )

    def _kept_facts(self, state: SessionState, here: int) -> frozenset[str]:
        """Return what a form keeps: all that is read, and what closes a happening."""
        return self._read(state, here) | self.closing

    def _asked(self, asked: Question) -> tuple[str, str, str]:
        over = asked.about is Asking.EMERGENCY_OVER
        return asked.about, "" if over else asked.target, asked.cue

    def _read(self, state: SessionState, here: int) -> frozenset[str]:
        """Return the facts that can be read from `state` on."""
        live = self.live_facts(here, self._closed(state, here))
        if state.standing is None:
            return live
        step = self.plan.steps[here]
        return live.union(step.establishes, step.begin_establishes)

    def _closed(self, state: SessionState, here: int) -> tuple[str, ...]:
        """Return the happenings that can never be offered again: a fact that forbids them holds,
        and neither a step nor another happening that can still come ends it."""
        return self.closed_by(here, state.facts & self.closing)

    def closed_by(self, here: int, held: frozenset[str]) -> tuple[str, ...]:
        """Return the happenings closed for good at step `here` while `held` of `closing` hold."""
        known = self._known_closed.get((here, held))
        if known is not None:
            return known
        closed: tuple[str, ...] = ()
        while True:
            guards = held - self._ends(here, closed)
            more = tuple(
                each.cue.id for each in self.plan.happenings if not guards.isdisjoint(each.unless)
            )
            if more == closed:
                self._known_closed[here, held] = closed
                return closed
            closed = more

    def _ends(self, here: int, closed: tuple[str, ...]) -> frozenset[str]:
        """Return the facts that something can end from step `here` on."""
        ends = self._known_ends.get((here, closed))
        if ends is None:
            backs = self._backs(here, closed)
            floor = min((back for back, _ in backs), default=here)
            voids = (h.voids for h in self.plan.happenings if h.cue.id not in closed)
            ends = self.ends[floor].union(self.spoilable, *voids)
            self._known_ends[here, closed] = ends
        return ends

    def live_facts(self, here: int, closed: tuple[str, ...]) -> frozenset[str]:
        """Return the facts that can be read from step `here` on. What led back last before a fact
        is read did not void it."""
        live = self._known_live.get((here, closed))
        if live is None:
            again = (self.reads[back] - voids for back, voids in self._backs(here, closed))
            offered = (
                {*each.while_any, *each.unless, *used_up_with(each.voids)}
                for each in self.plan.happenings
                if each.cue.id not in closed
            )
            live = self.reads[here].union(self.spoilable, *again, *offered)
            self._known_live[here, closed] = live
        return live

    def _backs(self, here: int, closed: tuple[str, ...]) -> list[tuple[int, frozenset[str]]]:
        """Return the steps that what can still come leads back to, and what it voids."""
        return [
            (back, voids)
            for back, voids, cue in self.leading_back
            if back <= here and cue not in closed
        ]

    @property
    def leads_back_to(self) -> frozenset[int]:
        """The numbers of the steps that something leads back to."""
        return frozenset(back for back, _, _ in self.leading_back)

    def counts(self, spec: TimerSpec) -> bool:
        """Return whether any decision can depend on a timer of `spec`."""
        return (
            spec.kind is not TimerKind.COUNT_DOWN
            or spec.name in self.referred
            or bool(spec.overdue_voids)
            or spec.overdue_back_to is not None
        )

    def read_from(self, step: int) -> frozenset[str]:
        """Return the facts that decide whether the steps from number `step` on can be done."""
        return self.reads[step]

    def with_entry(self, state: SessionState) -> SessionState:
        """Return `state` with one entry of each slot of many, as if it had been counted."""
        entries = tuple(Value(slot, self.first_value[slot], NOW - 1) for slot in sorted(self._many))
        return replace(state, values=(*state.values, *entries))

    def _matters(self, timer: RunningTimer, state: SessionState) -> bool:
        """Whether a decision can still depend on `timer`: one that has said all holds nothing,
        and an act confirmed again asks only whether its own maximum runs."""
        return self.counts(timer.spec) and (
            region(timer).upper < float("inf")
            or timer.spec.name in self.referred
            or (timer.step == state.standing and state.mode is Mode.RUNNING)
        )

    def _timer(self, timer: RunningTimer) -> RunningTimer:
        least = timer.least
        if least is not None:
            least = timer.spec.least if timer.spec.least is not None else 1.0
        even = replace(timer, least=least, warned=True)
        return replace(even, started=NOW - region(even).middle)

    def _values(self, state: SessionState, here: int) -> tuple[Value, ...]:
        wanted = self.settling[here]
        known = sorted({value.slot for value in state.values} & wanted)
        values = tuple(Value(slot, self.first_value[slot], NOW - 1) for slot in known)
        asked = state.question
        if asked is not None and asked.about is Asking.STRIKE:
            values = (*values, Value(asked.target, self.first_value[asked.target], NOW - 1))
        return values

    def _question(self, question: Question | None) -> Question | None:
        if question is None:
            return None
        target = question.target
        if question.about is Asking.EMERGENCY_OVER and self._first_alarm is not None:
            target = self._first_alarm
        return replace(question, target=target, lapses=NOW + LATER)

    def _leading_back(self) -> Iterator[tuple[int, frozenset[str], str]]:
        index = self.plan.step_index
        for happening in self.plan.happenings:
            yield index[happening.back_to], frozenset(happening.voids), happening.cue.id
        for step in self.plan.steps:
            for spec in step.timers:
                if spec.overdue_back_to is not None:
                    yield index[spec.overdue_back_to], frozenset(spec.overdue_voids), ""

    def read_by(self, step: Step) -> frozenset[str]:
        """Return the facts that decide whether `step` may be done."""
        read = set(step.needs)
        for fact in (*step.establishes, *step.begin_establishes):
            for rule in self._touching.get(fact, ()):
                if rule.act == fact:
                    read.update(rule.needs)
                if fact in rule.never:
                    read.update(rule.never)
        read |= barred_by((*step.establishes, *step.begin_establishes))
        return frozenset(read.union(used_up_with((*step.voids, *step.begin_voids))))

    def _settled_later(self) -> list[frozenset[str]]:
        wanted = _from_here([set(step.asks if step.settles else ()) for step in self.plan.steps])
        floors = (
            min((b for b, _ in self._backs(n, ())), default=n) for n in range(len(wanted) - 1)
        )
        return [wanted[floor] for floor in floors]


def used_up_with(voids: Iterable[str]) -> frozenset[str]:
    """Return what the proof's laws read where `voids` are lost."""
    lost = frozenset(voids)
    some = ({law.fact, *law.takes} for law in laws().used_up if law.fact in lost)
    return frozenset[str]().union(*some)


def _with_used_up(voids: Iterable[str]) -> frozenset[str]:
    lost = frozenset(voids)
    return lost | used_up_with(lost)


def _from_here(sets: Sequence[Set[str]]) -> list[frozenset[str]]:
    """Return, for each place, what it and all later ones have between them; empty at the end."""
    found = [frozenset[str]()]
    for each in reversed(sets):
        found.append(found[-1] if each <= found[-1] else found[-1] | each)
    found.reverse()
    return found


def ringing_first(state: SessionState, timer: RunningTimer) -> SessionState:
    """Return a form in which `timer` is about to ring, before everything else."""
    first = region(timer)
    soon = replace(timer, started=NOW - max(first.lower, first.upper - INSTANT))
    return replace(state, timers=tuple(soon if each is timer else each for each in state.timers))


def unwarned(state: SessionState, name: str) -> SessionState:
    """Return a form in which timer `name` is about to warn, before everything else."""
    timer = next(each for each in state.timers if each.spec.name == name)
    warn = timer.spec.warn or 0.0
    ripe = timer.least is not None and timer.least <= warn
    warning = replace(timer, warned=False, ripe=ripe, started=NOW - warn + INSTANT)
    return replace(state, timers=tuple(warning if each is timer else each for each in state.timers))


def lapsing_first(state: SessionState) -> SessionState:
    """Return a form whose question is about to lapse, before any timer rings."""
    if state.question is None:
        raise ValueError("no question is open")
    return replace(state, question=replace(state.question, lapses=NOW + INSTANT))
