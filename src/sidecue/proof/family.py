"""Exploration of a family of plans at once: every state of every one of them.

The plans of one procedure are alike in most of their steps. A state is kept once, with a bit for
each plan that can be in it. What happens in it is asked once for all plans that are alike there in
what it reads (`places`, `outlook`), and the answer is kept as a change (facts gained and lost,
where it leads, what it broke) that serves wherever the same is read again, in this family or in
another one of the library (`asking`, `atlas`). So every state of every plan is walked, and the
machine is asked about each thing once, and now and then again.

`exploring` walks one plan without any of this; a test and a benchmark compare the two, form for
form.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from heapq import heappop, heappush
from time import perf_counter

from sidecue.procedure.plan import Plan, Rule
from sidecue.proof.abstraction import Form
from sidecue.proof.asking import ALIKE, AUDIT, Asker
from sidecue.proof.atlas import Atlas, Key, Known
from sidecue.proof.demands import Demand
from sidecue.proof.exploring import Explorer, Violation
from sidecue.proof.laws import beside
from sidecue.proof.moves import Move
from sidecue.proof.outlook import Outlook
from sidecue.proof.places import Arrival, Group, Node, Place
from sidecue.proof.properties import Broken
from sidecue.proof.reaching import finishing
from sidecue.session.state import Asking, Mode, SessionState


@dataclass(slots=True)
class Heard:
    """Which later steps' cues, and whether a skip, are heard in one situation of a place, in which
    plans; and for which plans that was asked, and all that comes before those cues judged."""

    cues: dict[str, int] = field(default_factory=dict)
    asked: int = 0
    judged: int = 0


@dataclass
class FamilyExploration:
    """What came of it. `states` and `transitions` are counted for each plan; `nodes` are the states
    kept, and `tried` what was tried on the machine."""

    plans: int = 0
    states: int = 0
    transitions: int = 0
    nodes: int = 0
    tried: int = 0
    audited: int = 0  # answers used again that were asked again all the same
    seconds: float = 0.0
    violations: list[tuple[int, Violation]] = field(default_factory=list)  # number of the plan


class Family:
    """The states of some plans. `rules` are the interlocks that each of them is held to."""

    def __init__(
        self,
        plans: Sequence[Plan],
        rules: Sequence[Sequence[Rule]],
        atlas: Atlas,
        audit: int = AUDIT,
    ) -> None:
        self._given = list(zip(plans, rules, strict=True))
        self._atlas = atlas
        self._outlooks: list[Outlook] = []
        self._places: dict[str, Place] = {}
        self._nodes: list[Node] = []
        self._index: dict[Key, int] = {}
        self._besides: dict[Key, list[int]] = {}
        self._heap: list[tuple[int, int]] = []
        self._seen: dict[Key, int] = {}  # what is tried once at each place: for which plans
        self._heard: dict[Key, Heard] = {}
        self._done: dict[str, int] = {}
        self._broken: dict[Broken, int] = {}
        self._transitions = 0
        for number, (made, held_to) in enumerate(self._given):
            self._settle(number, Outlook(made, (*held_to, *beside(made)), atlas))
        self._asker = Asker(self._given, self._outlooks, atlas, audit)
        self._rank = _ranks([outlook.plan for outlook in self._outlooks])

    def _settle(self, number: int, outlook: Outlook) -> None:
        """Add a plan to the places of its steps."""
        self._outlooks.append(outlook)
        for here, step in enumerate(outlook.plan.steps):
            place = self._places.get(step.id)
            if place is None:
                place = self._places[step.id] = Place(step.id, self._atlas)
            place.add(1 << number, outlook, here)

    def walk(
        self, stop_at_a_fault: bool = False, tell: Callable[[float], None] = lambda _done: None
    ) -> None:
        """Walk every reachable state of every plan, and judge them; or only until something is
        broken. `tell` hears which part of the steps was come to."""
        furthest, last = 0, max(self._rank.values()) + 1
        for number, outlook in enumerate(self._outlooks):
            first = SessionState(mode=Mode.RUNNING, step=outlook.plan.steps[0].id)
            self._reach(first.step, self._atlas.raw(first), 0, 1 << number)
        while self._heap:
            rank, number = heappop(self._heap)
            if rank > furthest:
                furthest = rank
                tell(rank / last)
            self._expand(number)
            if stop_at_a_fault and self._broken:
                return
        self._judge_whole()

    def explore(self, tell: Callable[[float], None] = lambda _done: None) -> FamilyExploration:
        """Walk, and return what came of it; `tell` as for `walk`."""
        began = perf_counter()
        self.walk(tell=tell)
        return FamilyExploration(
            plans=len(self._outlooks),
            states=sum(node.plans.bit_count() for node in self._nodes),
            transitions=self._transitions,
            nodes=len(self._nodes),
            tried=self._asker.tried,
            audited=self._asker.audited,
            violations=list(self._told()),
            seconds=perf_counter() - began,
        )

    def forms(self, number: int) -> frozenset[Form]:
        """Return the forms of all states that plan `number` can be in, as `Explorer` tells them."""
        form_of = self._outlooks[number].abstraction.form_of
        return frozenset(
            form_of(self._atlas.state(node.rest, node.place.step, node.facts))
            for node in self._nodes
            if node.plans >> number & 1
        )

    def broken_of(self, number: int) -> frozenset[Broken]:
        """Return what plan `number` breaks."""
        return frozenset(each for each, plans in self._broken.items() if plans >> number & 1)

    def working(self, number: int) -> Iterator[tuple[str, int, bool]]:
        """Yield step and facts, as bits, of the states of plan `number` in which work goes on and
        its step is not begun; and whether the step stands, for undo took back its word alone."""
        for node in self._nodes:
            rest = self._atlas.rests[node.rest]
            calm = rest.mode is Mode.RUNNING and rest.question is None
            if calm and node.plans >> number & 1 and not rest.under_way:
                yield node.place.step, node.facts, rest.standing is not None

    def following(self, number: int) -> Sequence[Demand]:
        """Return the demands of plan `number`, in the bits of the atlas."""
        return self._outlooks[number].following

    # -- one state -------------------------------------------------------------------------------

    def _expand(self, number: int) -> None:
        node = self._nodes[number]
        plans, node.open = node.open, 0
        rest, place, asker = self._atlas.rests[node.rest], node.place, self._asker
        if not rest.live:
            return
        asked = rest.question
        valued = asked is not None and asked.about in (Asking.VALUE, Asking.STRIKE)
        for group, some in place.each("own, values" if valued else "own", plans):
            self._take(number, some, asker.own(node, some, group))
        if rest.mode is Mode.RUNNING and asked is None:
            self._hear(number, plans)
            for group, some in place.each("forms", plans):
                spoilt = node.facts & group.outlook.spoilable
                clock = self._atlas.clocks[node.rest]
                beside = ("leaving", place.step, rest.under_way, spoilt, clock)
                self._once(number, some, beside, asker.leaving)
        else:
            asked_at = (self._atlas.places[node.rest], self._atlas.strikes[node.rest])
            self._take(number, plans, asker.said(node, plans, None, asked_at))
        self._once(number, plans, ("aside", place.step, self._atlas.places[node.rest]), asker.aside)
        self._once(number, plans, ("alarms", place.step, rest.mode), asker.alarms)

    def _hear(self, number: int, plans: int) -> None:
        """Judge what may be said; tell each happening that can be told; ask to leave out."""
        node, asker = self._nodes[number], self._asker
        place, asked = node.place, (self._atlas.places[node.rest], None)
        for offer in place.offers(node.facts):
            offered = plans & offer.plans
            if not offered:
                continue
            for each, _, told in offer.happenings:
                self._take(number, offered, asker.told(node, offered, each, told))
            among = (asked[0], self._atlas.strikes[node.rest], offer.heard)
            heard = self._heard_at(place, among)
            new = offered & ~heard.judged
            heard.judged |= new
            for group, some in place.each("first", new) if new else ():
                self._take(number, some, asker.said(node, some, group, among))
            if offered & place.unsure:
                self._leave(number, offered & place.unsure, heard, among)
        if plans & ~place.unsure:
            self._leave(number, plans & ~place.unsure, self._heard_at(place, asked), asked)

    def _heard_at(self, place: Place, among: Key) -> Heard:
        return self._heard.setdefault((place.step, among), Heard())

    def _leave(self, number: int, plans: int, heard: Heard, among: Key) -> None:
        """Ask to leave out the step, and to leave out all up to each later one that is heard."""
        node, asker = self._nodes[number], self._asker
        new = plans & ~heard.asked
        heard.asked |= new
        for group, some in node.place.each("heard", new) if new else ():
            said = asker.said(node, some, group, among, ahead=True)
            self._take(number, some, said)
            for cue in said.heard:
                heard.cues[cue] = heard.cues.get(cue, 0) | some
        for leaving in node.place.leavings(node.facts, node.rest):
            some = plans & leaving.plans & heard.cues.get(leaving.cue, 0)
            if some:
                known = asker.left(node, some, leaving)
                if known.shifts or known.broken:
                    self._take(number, some, known)
                else:
                    self._transitions += known.tried * some.bit_count()

    def _once(
        self, number: int, plans: int, what: Key, ask: Callable[[Node, int, Group], Known]
    ) -> None:
        seen = self._seen.get(what, 0)
        new = plans & ~seen
        if new:
            self._seen[what] = seen | new
            node = self._nodes[number]
            asked = self._atlas.rests[node.rest].question
            plain = asked is not None and asked.about not in (Asking.VALUE, Asking.STRIKE)
            for group, some in node.place.each("aside" if plain else "aside, values", new):
                self._take(number, some, ask(node, some, group))

    def _take(self, number: int, plans: int, known: Known) -> None:
        node = self._nodes[number]
        self._transitions += known.tried * plans.bit_count()
        here, facts = node.place.step, node.facts
        if known.done:
            self._done[here] = self._done.get(here, 0) | plans
        for broken in known.broken:
            self._broken[broken] = self._broken.get(broken, 0) | plans
        for change in known.changes:
            after = facts & ~change.lost | change.gained
            self._go(node, change.step or here, change.raw, after, plans)
        for shift in known.shifts:
            self._go(node, here, self._atlas.shifted(node.rest, shift, here), facts, plans)

    def _go(self, node: Node, step: str, raw: int, facts: int, plans: int) -> None:
        for to, some in self._reach(step, raw, facts, plans):
            node.next[to] = node.next.get(to, 0) | some

    def _reach(self, step: str, raw: int, facts: int, plans: int) -> list[tuple[int, int]]:
        """Return the nodes, by number, that `plans` are in now, each with those of them."""
        reached: list[tuple[int, int]] = []
        place = self._places[step]
        for group, some in place.each("forms", plans):
            rest = self._atlas.rest(raw, group.number, group.outlook.abstraction, group.leads)
            arrivals = place.arrivals.get((rest, facts))
            if arrivals is None:
                arrivals = place.arrivals[rest, facts] = list(self._arrive(place, rest, facts))
            for each in arrivals:
                mine = each.plans & some
                if mine:
                    if each.node < 0:
                        each.node = self._node_of(place, each, rest)
                    self._open(each.node, mine)
                    reached.append((each.node, mine))
            if not arrivals:
                reached += self._arrive_beside(place, group, rest, facts, some)
        return reached

    def _arrive(self, place: Place, rest: int, facts: int) -> Iterator[Arrival]:
        """Yield the states that are arrived at; none where it depends on how a plan came here,
        aside of its work."""
        form = self._atlas.rests[rest]
        if form.mode is Mode.FINISHED:
            yield Arrival(-1, (Mode.FINISHED,), 0)
        elif form.mode is Mode.RUNNING:
            for kept in place.kept(facts, form.standing is not None):
                yield Arrival(kept.plans, (place.step, rest, kept.read, kept.closed), kept.held)

    def _node_of(self, place: Place, arrival: Arrival, rest: int) -> int:
        number = self._index.get(arrival.key)
        if number is None:
            number = self._index[arrival.key] = self._new(Node(place, rest, arrival.held))
        return number

    def _arrive_beside(
        self, place: Place, group: Group, rest: int, facts: int, plans: int
    ) -> list[tuple[int, int]]:
        """A pause or an emergency keeps the facts that its plan came with first (see
        `abstraction` on why others need no state of their own)."""
        spoilable = facts & group.outlook.spoilable
        standing = self._atlas.rests[rest].standing is not None
        key = (place.step, self._atlas.besides[rest], spoilable)
        numbers = self._besides.setdefault(key, [])
        reached: list[tuple[int, int]] = []
        for number in numbers:
            some = self._nodes[number].plans & plans
            if some:
                reached.append((number, some))
                plans &= ~some
        for kept in place.kept(facts, standing) if plans else ():
            some = plans & kept.plans
            if not some:
                continue
            own = (place.step, rest, kept.held, spoilable)
            at = self._index.get(own)
            if at is None:
                at = self._index[own] = self._new(Node(place, rest, kept.held))
                numbers.append(at)
            self._open(at, some)
            reached.append((at, some))
        return reached

    def _new(self, node: Node) -> int:
        self._nodes.append(node)
        return len(self._nodes) - 1

    def _open(self, number: int, plans: int) -> None:
        node = self._nodes[number]
        new = plans & ~node.plans
        if new:
            if not node.open:
                heappush(self._heap, (self._rank[node.place.step], number))
            node.plans |= new
            node.open |= new

    # -- the whole -------------------------------------------------------------------------------

    def _judge_whole(self) -> None:
        """Find states from which a plan cannot be finished any more, and steps that can be left
        out at most."""
        ends = [n for n, node in enumerate(self._nodes) if not self._atlas.rests[node.rest].live]
        can = finishing([node.next for node in self._nodes],
                        {end: self._nodes[end].plans for end in ends})  # fmt: skip
        for number, node in enumerate(self._nodes):
            stuck = node.plans & ~can[number]
            if stuck:
                what = f"from step {node.place.step!r} the procedure can never be finished"
                broken = Broken("no dead end", what)
                self._broken[broken] = self._broken.get(broken, 0) | stuck
            undone = node.plans & ~self._done.get(node.place.step, 0)
            if undone and self._atlas.rests[node.rest].live:
                broken = Broken("every step can be done", f"{node.place.step!r} cannot")
                self._broken[broken] = self._broken.get(broken, 0) | undone

    def _told(self) -> Iterator[tuple[int, Violation]]:
        """Yield each fault with a plan that has it, and a shortest way there: found again by
        walking that plan by itself."""
        told: dict[int, list[Broken]] = {}
        for broken, plans in self._broken.items():
            number = next((n for n in told if plans >> n & 1), (plans & -plans).bit_length() - 1)
            told.setdefault(number, []).append(broken)
        for number, faults in told.items():
            wanted = frozenset(each for each in faults if each.name not in ALIKE)
            ways: dict[Broken, tuple[Move, ...]] = {}
            if wanted:
                made, rules = self._given[number]
                found = Explorer(made, rules).explore(most_violations=1000, wanted=wanted)
                ways = {each.broken: each.way for each in found.violations}
            for broken in faults:
                yield number, Violation(broken, ways.get(broken, ()))


def _ranks(plans: Iterable[Plan]) -> dict[str, int]:
    """Return the order in which steps are best walked: each after those before it in any plan."""
    ranks: dict[str, int] = {}
    plans = list(plans)
    for _ in range(8):  # orders that go against each other never settle, and need not
        before = dict(ranks)
        for each in plans:
            rank = 0
            for step in each.steps:
                rank = ranks[step.id] = max(rank, ranks.get(step.id, 0))
                rank += 1
        if ranks == before:
            break
    return ranks
