"""Places: a step in all plans that have it, and what is read there of a state.

The plans of a place are told apart only in groups: by what its own cues read, by what may be said,
by what can happen, and so on (`outlook`). Of each group one plan stands for all.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property, reduce
from operator import or_

from sidecue.procedure.plan import Happening
from sidecue.proof.atlas import Atlas, Key, Leads
from sidecue.proof.demands import Demand
from sidecue.proof.laws import laws
from sidecue.proof.outlook import Outlook, read_at
from sidecue.session.state import Asking, Mode

#: Questions whose answer changes no fact but by the data of what was asked about.
_APART = frozenset({Asking.SKIP, Asking.JUMP, Asking.EMERGENCY_OVER, Asking.STRIKE})


@dataclass
class Group:
    """Plans that are alike at a place in one respect; one of them stands for all."""

    number: int
    outlook: Outlook
    here: int
    plans: int = 0  # as bits
    lives: dict[int, tuple[int, int]] = field(default_factory=dict)  # see `_live`

    @cached_property
    def leads(self) -> Leads:
        """The timers that lead back once they pass, and whether that is back from here."""
        return self.outlook.leads(self.here)

    @cached_property
    def read_here(self) -> int:
        """The facts that the step's own cues read, as bits."""
        return read_at(self.outlook, self.here)

    @cached_property
    def gains(self) -> int:
        """The facts that the step gains, as bits."""
        step = self.outlook.plan.steps[self.here]
        return self.outlook.bits.of((*step.establishes, *step.begin_establishes))


@dataclass(frozen=True, slots=True)
class Exit:
    """A skip, or a jump to one later step, in those of `plans` that are alike in it: its cue, what
    the facts must be for it, the timers that what is left out would have ended and those that the
    step jumped to ends, as bits, and whether the step that is left has a beginning."""

    cue: str
    demand: Demand
    ends: tuple[int, int]
    begins: bool
    plans: int


@dataclass(frozen=True, slots=True)
class Leaving:
    """An exit as some facts and timers make it: `foreseen` is whether the facts allow it, -1 where
    a begun step says no by itself; `timed` whether a timer can say no."""

    plans: int
    cue: str
    key: Key
    foreseen: int
    timed: bool


@dataclass(frozen=True, slots=True)
class Kept:
    """What a form keeps of the facts: `plans`, the facts that can be `read` again and all that are
    `held`, as bits; and the number of the happenings that are closed for good."""

    plans: int
    read: int
    held: int
    closed: int


@dataclass(slots=True)
class Arrival:
    """A state that is arrived at with some rest and facts: in which plans, the key of its node, all
    the facts that are `held` there, as bits, and its node's number, once there is one."""

    plans: int
    key: Key
    held: int
    node: int = -1


@dataclass(frozen=True, slots=True)
class Offer:
    """The happenings that can be told, in which plans."""

    plans: int
    happenings: tuple[tuple[Happening, bool, int], ...]  # whether it leads back; number of both
    heard: int  # the number of their cues


class Place:
    """A step in all plans that have it."""

    def __init__(self, step: str, atlas: Atlas) -> None:
        self.step, self._atlas = step, atlas
        self.groups: dict[str, dict[int, Group]] = {}
        self._law = atlas.bits.of([f for law in laws().used_up for f in (law.fact, *law.takes)])
        self._readings: dict[tuple[int, int], int] = {}
        self._leavings: dict[tuple[int, bool, bool, int], list[Leaving]] = {}
        self._may: dict[int, list[tuple[int, str, int, bool, tuple[int, int]]]] = {}
        self._parted: dict[tuple[str, int], tuple[tuple[Group, int], ...]] = {}
        self.arrivals: dict[tuple[int, int], list[Arrival]] = {}  # by rest and facts
        self.unsure = 0  # the plans in which what is offered decides whether a later cue is heard
        self._offers: dict[int, list[Offer]] = {}
        self._kept: dict[tuple[int, bool], list[Kept]] = {}

    def add(self, bit: int, outlook: Outlook, here: int) -> None:
        """Add the plan with `bit`, in which the step is number `here`."""
        for kind, numbers in outlook.numbers.items():
            groups, number = self.groups.setdefault(kind, {}), numbers[here]
            group = groups.get(number)
            if group is None:
                group = groups[number] = Group(number, outlook, here)
            group.plans |= bit
        if outlook.unsure(here):
            self.unsure |= bit

    def each(self, kind: str, plans: int) -> tuple[tuple[Group, int], ...]:
        """Return the groups of one kind that have some of `plans`, each with those. Not before
        the last plan is added."""
        known = self._parted.get((kind, plans))
        if known is None:
            known = self._parted[kind, plans] = tuple(
                (group, plans & group.plans)
                for group in self.groups[kind].values()
                if plans & group.plans
            )
        return known

    # -- of a state's facts ----------------------------------------------------------------------

    def kept(self, facts: int, standing: bool) -> list[Kept]:
        """Return what forms keep of `facts`; with `standing`, what the step gains is read too."""
        known = self._kept.get((facts, standing))
        if known is None:
            found: dict[tuple[int, int, int], int] = {}
            for group in self.groups["lives"].values():
                live, closed = _live(group, facts)
                live |= group.gains if standing else 0
                key = (facts & live, facts & (live | group.outlook.closing), closed)
                found[key] = found.get(key, 0) | group.plans
            known = [Kept(plans, *key) for key, plans in found.items()]
            self._kept[facts, standing] = known
        return known

    @cached_property
    def exits(self) -> list[Exit]:
        """What may be left out from here: each thing once for all plans that are alike in it."""
        found: dict[tuple[str, int, tuple[int, int], bool], int] = {}
        demands: dict[int, Demand] = {}  # equal ones are one: see `Outlook`
        for group in self.groups["further"].values():
            look, here = group.outlook, group.here
            begins = look.plan.steps[here].begin is not None
            to = (here + 1, *look.ahead(here))
            for cue, there, ends in zip(
                leaving_cues(look, here), to, look.ends_ahead(here), strict=True
            ):
                demand = look.following[there]
                demands[id(demand)] = demand
                key = (cue, id(demand), ends, begins)
                found[key] = found.get(key, 0) | group.plans
        return [
            Exit(cue, demands[demand], ends, begins, plans)
            for (cue, demand, ends, begins), plans in found.items()
        ]

    @cached_property
    def asked_ahead(self) -> int:
        """The facts that the demands of the exits read, as bits."""
        demands = {id(each.demand): each.demand for each in self.exits}.values()
        return reduce(or_, (n for each in demands for n in (each.needs, *each.never)), 0)

    def leavings(self, facts: int, rest: int) -> list[Leaving]:
        """Return what the exits come to with `facts` and rest number `rest`."""
        form, clock = self._atlas.rests[rest], self._atlas.clocks[rest]
        facts &= self.asked_ahead
        stands = form.standing == self.step
        known = self._leavings.get((facts, form.under_way, stands, clock))
        if known is None:
            found: dict[tuple[str, Key, int, bool], int] = {}
            for plans, cue, may, begins, ends in self._allowed(facts):
                foreseen = -1 if form.under_way or (stands and begins) else may
                ended = tuple(
                    tuple(sign for name, sign in self._atlas.signs[rest] if name & each)
                    for each in ends
                )  # of the timers no other is read
                step = self.step if cue == "skip" else None  # its question names the step
                key = ("out", cue, step, foreseen, ended)
                one = (cue, key, foreseen, ended != ((), ()))
                found[one] = found.get(one, 0) | plans
            known = [Leaving(plans, *one) for one, plans in found.items()]
            self._leavings[facts, form.under_way, stands, clock] = known
        return known

    def _allowed(self, facts: int) -> list[tuple[int, str, int, bool, tuple[int, int]]]:
        """Return the exits with whether `facts` allow them, those that are then alike as one."""
        known = self._may.get(facts)
        if known is None:
            found: dict[tuple[str, int, bool, tuple[int, int]], int] = {}
            met: dict[int, int] = {}
            for each in self.exits:
                may = met.get(id(each.demand))
                if may is None:
                    may = met[id(each.demand)] = int(each.demand.met(facts))
                key = (each.cue, may, each.begins, each.ends)
                found[key] = found.get(key, 0) | each.plans
            known = self._may[facts] = [(plans, *key) for key, plans in found.items()]
        return known

    def offers(self, facts: int) -> list[Offer]:
        """Return which happenings can be told, in which plans."""
        known = self._offers.get(facts)
        if known is None:
            held = self._atlas.bits.facts(facts)
            found: dict[tuple[tuple[Happening, bool], ...], int] = {}
            for group in self.groups["backs"].values():
                key = tuple(_offered(group, held))
                found[key] = found.get(key, 0) | group.plans
            number = self._atlas.number
            known = self._offers[facts] = [
                Offer(
                    plans,
                    tuple((each, back, number(("told", each, back))) for each, back in key),
                    number(tuple(each.cue for each, _ in key)),
                )
                for key, plans in found.items()
            ]
        return known

    # -- of the rest -----------------------------------------------------------------------------

    def reading(self, group: Group, number: int) -> int:
        """Return the facts that the own cues, an answer and the clock read with rest `number`."""
        known = self._readings.get((group.number, number))
        if known is None:
            known = self._readings[group.number, number] = self._reading(group, number)
        return known

    def _reading(self, group: Group, number: int) -> int:
        rest, bits = self._atlas.rests[number], self._atlas.bits
        asked, about = rest.question, self._atlas.abouts[number]
        facts = self._law
        if rest.mode is Mode.RUNNING and (asked is None or asked.about not in _APART):
            facts |= group.read_here
        if about is not None:
            facts |= bits.of(about[0].voids)
        for timer in rest.timers:
            facts |= bits.of(timer.spec.overdue_voids)
        return facts


@dataclass(slots=True)
class Node:
    """A state: its place, what it is beside its facts by its number in the atlas, its facts as
    bits, and the plans that can be in it, as bits."""

    place: Place
    rest: int
    facts: int
    plans: int = 0
    open: int = 0  # those for which it is still to be walked
    next: dict[int, int] = field(default_factory=dict)  # node number -> plans that can go there


def leaving_cues(outlook: Outlook, here: int) -> Iterator[str]:
    """Yield the cues that ask to leave something out."""
    yield "skip"
    for there in outlook.ahead(here):
        step = outlook.plan.steps[there]
        yield (step.begin or step.done).id


def _live(group: Group, facts: int) -> tuple[int, int]:
    look = group.outlook
    held = facts & look.closing
    known = group.lives.get(held)
    if known is None:
        closed = look.abstraction.closed_by(group.here, look.bits.facts(held))
        live = look.bits.of(look.abstraction.live_facts(group.here, closed))
        known = group.lives[held] = live, look.atlas.number(("closed", closed))
    return known


def _offered(group: Group, held: frozenset[str]) -> Iterator[tuple[Happening, bool]]:
    """Yield the happenings that can be told, and whether each leads back from here."""
    index = group.outlook.plan.step_index
    for each in group.outlook.plan.happenings:
        if not held.isdisjoint(each.while_any) and held.isdisjoint(each.unless):
            yield each, index[each.back_to] <= group.here
