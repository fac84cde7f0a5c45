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
from sidecue.proof.atlas import Atlas, Leads
from sidecue.proof.laws import laws
from sidecue.proof.outlook import Outlook, read_at
from sidecue.session.state import Asking, Mode, SessionState

#: Questions whose answer changes no fact but by the data of what was asked about.
_APART = frozenset({Asking.SKIP, Asking.JUMP, Asking.EMERGENCY_OVER, Asking.STRIKE})


@dataclass
class Group:
    """Plans that are alike at a place in one respect; one of them stands for all."""

    number: int
    outlook: Outlook
    here: int
    plans: int = 0  # as bits

    @cached_property
    def ending(self) -> int:
        """The timers that leaving out and jumping from here could end, as bits."""
        return reduce(or_, (out | at for out, at in self.outlook.ends_ahead(self.here)))

    @cached_property
    def leaving(self) -> int:
        """The number of what leaving the step out and jumping read beside the facts."""
        return self.outlook.leaving(self.here)

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

    def begun(self, state: SessionState) -> bool:
        """Return whether the step is under way, if only by what stands of it."""
        step = self.outlook.plan.steps[self.here]
        return state.under_way or (state.standing == step.id and step.begin is not None)


@dataclass(frozen=True, slots=True)
class Leaving:
    """What a skip and the jumps come to by the facts: the group, and what is `allowed`, as bits."""

    group: Group
    allowed: int


@dataclass(frozen=True, slots=True)
class Kept:
    """What a form keeps of the facts: `plans`, the facts that can be `read` again and all that are
    `held`, as bits; and the number of the happenings that are closed for good."""

    plans: int
    read: int
    held: int
    closed: int


@dataclass(frozen=True, slots=True)
class Offer:
    """The happenings that can be told, in which plans."""

    plans: int
    happenings: tuple[tuple[Happening, bool], ...]  # and whether it leads back from here
    heard: int  # the number of their cues


class Place:
    """A step in all plans that have it."""

    def __init__(self, step: str, atlas: Atlas) -> None:
        self.step, self._atlas = step, atlas
        self.groups: dict[str, dict[int, Group]] = {}
        self._law = atlas.bits.of([f for law in laws().used_up for f in (law.fact, *law.takes)])
        self._readings: dict[tuple[int, int], int] = {}
        self._leavings: dict[int, list[Leaving]] = {}
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

    def each(self, kind: str, plans: int) -> Iterator[tuple[Group, int]]:
        """Yield the groups of one kind that have some of `plans`, each with those."""
        for group in self.groups[kind].values():
            some = plans & group.plans
            if some:
                yield group, some

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

    def leavings(self, facts: int) -> list[Leaving]:
        """Return what a skip and each jump come to, for which plans."""
        known = self._leavings.get(facts)
        if known is None:
            known = self._leavings[facts] = [
                Leaving(group, allowed(group.outlook, group.here, facts))
                for group in self.groups["further"].values()
            ]
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
                Offer(plans, key, number(tuple(each.cue for each, _ in key)))
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


def allowed(outlook: Outlook, here: int, facts: int) -> int:
    """Return what the facts allow, as bits: the first for leaving the step out, the others for
    jumping to each step that is listened for."""
    found = int(outlook.following[here + 1].met(facts))
    for number, there in enumerate(outlook.ahead[here], start=1):
        if outlook.following[there].met(facts):
            found |= 1 << number
    return found


def leaving_cues(outlook: Outlook, here: int) -> Iterator[str]:
    """Yield the cues that ask to leave something out."""
    yield "skip"
    for there in outlook.ahead[here]:
        step = outlook.plan.steps[there]
        yield (step.begin or step.done).id


def _live(group: Group, facts: int) -> tuple[int, int]:
    look = group.outlook
    closed = look.abstraction.closed_by(group.here, look.bits.facts(facts & look.closing))
    live = look.bits.of(look.abstraction.live_facts(group.here, closed))
    return live, look.atlas.number(("closed", closed))


def _offered(group: Group, held: frozenset[str]) -> Iterator[tuple[Happening, bool]]:
    """Yield the happenings that can be told, and whether each leads back from here."""
    index = group.outlook.plan.step_index
    for each in group.outlook.plan.happenings:
        if not held.isdisjoint(each.while_any) and held.isdisjoint(each.unless):
            yield each, index[each.back_to] <= group.here
