"""One plan as its states see it: what of the plan can matter at each step, as numbers to compare.

Two plans are alike at a step in one respect when they have equal numbers for it. A place (`places`)
brings the plans together that have a step in common and are alike in what its own cues and the
clock read (`own`); for the rest (`further`, `first`, `heard`, `backs`, `lives`) they are told apart
only where a state shows a difference.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property, reduce
from itertools import accumulate
from operator import or_

from sidecue.procedure.interlocks import matches
from sidecue.procedure.plan import Cue, Plan, Rule, Slot, Step
from sidecue.proof.abstraction import Abstraction
from sidecue.proof.atlas import About, Atlas, Key, Leads
from sidecue.proof.demands import NOTHING, Demand, before_step, touched
from sidecue.proof.laws import barred_by
from sidecue.session.listening import ahead_of, watched
from sidecue.session.state import Asking, SessionState
from sidecue.session.timers import stopped_elsewhere
from sidecue.session.values import fewer_values, stretches


class Outlook:
    """The outlook of one plan; `rules` are what its properties read beside its own.

    The plans of a family end alike more often than not. What is a function of the steps from here
    to the end is worked out once for all plans with that end: a *tail* is the number of just those
    steps, of the timers they end and of which of them are listened for from afar.
    """

    def __init__(self, plan: Plan, rules: Iterable[Rule], atlas: Atlas) -> None:
        self.plan = plan = fewer_values(plan)
        self.held_to = tuple(rules)
        self.abstraction = Abstraction(plan, self.held_to)
        self.atlas, self.bits = atlas, atlas.bits
        bits, number = self.bits, atlas.number
        case = dict(plan.case_facts)
        self.own_rules = tuple(rule for rule in plan.rules if matches(rule.when, case))
        self.stopped = stopped_elsewhere(plan)
        self.spoilable = bits.of(self.abstraction.spoilable)
        self.closing = bits.of(self.abstraction.closing)
        self.happenings = {each.cue.id: each for each in plan.happenings}
        self._watched = watched(plan)
        self._wordless = [number(_wordless(step)) for step in plan.steps]
        self._stops = [
            tuple(timer.name in self.stopped for timer in step.timers) for step in plan.steps
        ]
        watch = frozenset(self._watched)
        self._far = [here in watch for here in range(len(plan.steps))]
        self._tails = self._to_the_end(
            zip(self._wordless, self._stops, self._far, strict=True), "tail"
        )
        self.following = self._demands()
        self.possible = self._so_far([
            bits.of((*step.establishes, *step.begin_establishes)) for step in plan.steps
        ])  # fmt: skip
        self._open_at = stretches(plan)
        self._slots = [self._slots_at(here) for here in range(len(plan.steps))]
        known = {slot.id: number(slot) for slot in plan.slots}
        self._slot_numbers = [
            tuple((known[slot.id], many) for slot, many in slots) for slots in self._slots
        ]
        self._leading = [
            (spec.name, spec.overdue_back_to)
            for step in plan.steps
            for spec in step.timers
            if spec.overdue_back_to is not None
        ]

    def _to_the_end(self, steps: Iterable[Key], kind: str) -> list[int]:
        """Return, for each step, the number of what `steps` has for it and for all after it."""
        number, found = self.atlas.number, list[int]()
        tail = number((kind, "end"))
        for each in reversed(list(steps)):
            tail = number((kind, each, tail))
            found.append(tail)
        found.reverse()
        return found

    def _demands(self) -> list[Demand]:
        ruled = self.atlas.number(self.own_rules)
        following, once, same = [self.atlas.same(NOTHING)], self.atlas.once, self.atlas.same
        for step, tail in zip(reversed(self.plan.steps), reversed(self._tails), strict=True):
            later = following[-1]
            following.append(once(
                ("demand", ruled, tail),
                lambda: same(before_step(step, self.own_rules, later, self.bits)),  # noqa: B023
            ))  # fmt: skip
        following.reverse()
        return following

    # -- what is alike ---------------------------------------------------------------------------

    @cached_property
    def numbers(self) -> dict[str, list[int]]:
        """The numbers of each step, by what they are for."""
        number, own, aside = self.atlas.number, self.own(), self.aside()
        numbing = number(self.plan.anaesthetic)
        slots = [(here, numbing) if here else None for here in self._slot_numbers]
        return {
            "own": own, "aside": aside,
            "own, values": [number(("own", *each)) for each in zip(own, slots, strict=True)],
            "aside, values": [number(("aside", *each)) for each in zip(aside, slots, strict=True)],
            "further": self.further(), "first": self.first(), "heard": self.heard(),
            "backs": self.backs(), "lives": self.lives(), "forms": self.forms(),
        }  # fmt: skip

    def own(self) -> list[int]:
        """Return, for each step, the number of all that its own cues and the clock read of the
        plan; beside the slots there, all that the answer to a value reads, too."""
        number, plan = self.atlas.number, self.plan
        own, held = number(self.own_rules), number(self.held_to)
        following = (*(step.id for step in plan.steps[1:]), None)
        return [
            number((
                "own", self._language, wordless, after, stops,
                self._touched(step, own, self.own_rules), self._touched(step, held, self.held_to),
                tuple(slot for slot in plan.slots if slot.id in step.asks) if step.asks else (),
                plan.anaesthetic if step.asks else None,
            ))
            for step, wordless, after, stops in zip(
                plan.steps, self._wordless, following, self._stops, strict=True
            )
        ]  # fmt: skip

    def _touched(self, step: Step, number: int, rules: Iterable[Rule]) -> tuple[str, ...]:
        """Return which of `rules`, which have this number, judge anything that `step` brings."""
        return self.atlas.once(
            ("touched", step.establishes, step.begin_establishes, number),
            lambda: tuple(rule.id for rule in touched(step, rules)),
        )

    def forms(self) -> list[int]:
        """Return, for each step, the number of all that decides what a form keeps there, facts
        aside."""
        number, first = self.atlas.number, self.abstraction.first_value
        plan = number(("forms", self.abstraction.referred, self.spoilable,
                       self.plan.emergencies[:1]))  # fmt: skip
        found = []
        for here, slots in enumerate(self._slots):
            settling = self.abstraction.settling[here]
            shown = settling.union(slot.id for slot, _ in slots)
            values = tuple((name, first.get(name)) for name in sorted(shown))
            found.append(number((plan, settling, self.leads(here), values)))
        return found

    def leads(self, here: int) -> Leads:
        """Return the timers that lead back once they pass, and whether that is back from `here`."""
        index = self.plan.step_index
        return tuple((name, index[back] <= here) for name, back in self._leading)

    def aside(self) -> list[int]:
        """Return, for each step, the number of all that is read by what leaves the work as it is,
        beside the slots there: the language, and whether the step has a beginning."""
        number = self.atlas.number
        return [
            number(("aside", self._language, step.id, step.begin is None, step.asks, step.settles))
            for step in self.plan.steps
        ]

    def further(self) -> list[int]:
        """Return, for each step, the number of all that a skip and the cues of later steps read."""
        ruled = self.atlas.number(self.own_rules)
        return [
            self.atlas.once(("further", ruled, tail), lambda: self._further(here))  # noqa: B023
            for here, tail in enumerate(self._tails)
        ]

    def _further(self, here: int) -> int:
        number, steps, following = self.atlas.number, self.plan.steps, self.following
        return number((
            "further", steps[here].id, steps[here].begin is None, following[here + 1],
            tuple((steps[there].id, following[there]) for there in self.ahead(here)),
            self.ends_ahead(here),
        ))  # fmt: skip

    def ahead(self, here: int) -> tuple[int, ...]:
        """Return the numbers of the later steps that are listened for at step `here`."""
        return ahead_of(here, self._watched, len(self.plan.steps))

    def first(self) -> list[int]:
        """Return, for each step, the number of all that decides what may be said there before the
        cues of later steps, which come last."""
        number = self.atlas.number
        return [
            number(("first", self._language, *each))
            for each in zip(self._entries, self._slot_numbers, strict=True)
        ]

    def heard(self) -> list[int]:
        """Return, for each step, the number of all that decides what may be said there."""
        entries, once, slots = self._entries, self.atlas.once, self._slot_numbers
        tails = self._to_the_end(zip(entries, self._far, strict=True), "heard")
        return [
            once(("heard", self._language, tail, slots[here]), lambda: self._heard(here))  # noqa: B023
            for here, tail in enumerate(tails)
        ]

    def _heard(self, here: int) -> int:
        entries = self._entries
        ahead = tuple(entries[there] for there in self.ahead(here))
        known = (self._language, entries[here], ahead, self._slot_numbers[here])
        return self.atlas.number(("heard", *known))

    def unsure(self, here: int) -> bool:
        """Return whether a cue of a later step that is listened for at step `here` has a phrase
        that anything else but a step has: what is offered then decides whether it is heard."""
        return bool(self._clashing) and not self._clashing.isdisjoint(self.ahead(here))

    @cached_property
    def _clashing(self) -> frozenset[int]:
        plan = self.plan
        others = {phrase for cue in _beside_steps(plan) for phrase in cue.phrases}
        return frozenset(
            number
            for number, step in enumerate(plan.steps)
            if not others.isdisjoint((step.begin or step.done).phrases)
        )

    @cached_property
    def _language(self) -> int:
        plan = self.plan
        return self.atlas.number((plan.cues, plan.skip_reasons, plan.emergencies))

    @cached_property
    def _entries(self) -> list[int]:
        number, tooth = self.atlas.number, self.plan.tooth_spoken.partition(",")[0]
        return [number((step.id, _phrases(step, tooth))) for step in self.plan.steps]

    def lives(self) -> list[int]:
        """Return, for each step, the number of all that decides which facts can be read again."""
        number, bits, forms = self.atlas.number, self.bits, self.abstraction
        read, ended = ([bits.of(each) for each in some] for some in (forms.reads, forms.ends))
        happenings = [
            (each.cue.id, bits.of(each.voids), bits.of(each.while_any), bits.of(each.unless))
            for each in self.plan.happenings
        ]
        backs = sorted(
            (cue, back, read[back] & ~bits.of(voids)) for back, voids, cue in forms.leading_back
        )
        found = []
        for here, possible in enumerate(self.possible):
            near = [each for each in backs if each[1] <= here]
            floors = sorted({here, *(back for _, back, _ in near)})
            ends = possible & self.closing
            found.append(number((
                "lives", self.spoilable, read[here] & possible, ended[here] & ends,
                tuple(
                    (cue, floors.index(back), reads & possible, ended[back] & ends)
                    for cue, back, reads in near
                ),
                tuple(
                    (cue, voids & possible, while_any & possible, unless & possible)
                    for cue, voids, while_any, unless in happenings
                ),
            )))  # fmt: skip
        return found

    def backs(self) -> list[int]:
        """Return, for each step, the number of what can happen there that leads back."""
        number, index = self.atlas.number, self.plan.step_index
        can = [(number(each), index[each.back_to]) for each in self.plan.happenings]
        return [
            number(("backs", tuple((each, back <= here) for each, back in can)))
            for here in range(len(self.plan.steps))
        ]

    # -- what these are made of ------------------------------------------------------------------

    def about(self, state: SessionState) -> About:
        """Return what of the plan an answer to the question of `state` will read."""
        asked = state.question
        if asked is None or asked.about is not Asking.HAPPENING:
            return None
        told, index = self.happenings[asked.target], self.plan.step_index
        return told, index[told.back_to] <= index[state.step]

    def ends_ahead(self, here: int) -> tuple[tuple[int, int], ...]:
        """Return, for leaving the step out and for each jump, the timers that the steps left out
        would have ended and those that the step jumped to ends, as bits."""
        return self.atlas.once(("ends", self._tails[here]), lambda: self._each_end(here))

    def _each_end(self, here: int) -> tuple[tuple[int, int], ...]:
        found = []
        out, at = 0, here
        for there in (here + 1, *self.ahead(here)):
            out = reduce(or_, self._ending[at:there], out)
            at = there
            found.append((out, self._ending[there]))
        return tuple(found)

    @cached_property
    def _ending(self) -> list[int]:
        """For each step, the timers that end with it, as bits; and none for the end."""
        found = [
            self.bits.of({*step.stops, *step.done_stops}
                         | {timer.name for timer in step.timers} - self.stopped)
            for step in self.plan.steps
        ]  # fmt: skip
        return [*found, 0]

    def _so_far(self, gains: Sequence[int]) -> list[int]:
        """Return, for each step, what can have been gained when it is the current one: by the
        steps up to it, or by any where something leads back to it or to one before it."""
        first = min(self.abstraction.leads_back_to, default=len(gains))
        every = reduce(or_, gains, 0)
        so_far = accumulate(gains, or_)
        return [every if n >= first else each for n, each in enumerate(so_far)]

    def _slots_at(self, here: int) -> tuple[tuple[Slot, bool], ...]:
        """Return the slots that take a value at step `here`, and whether each takes many."""
        step = self.plan.steps[here]
        return tuple(
            (slot, here in self._open_at.get(slot.id, ()))
            for slot in self.plan.slots
            if slot.id in step.asks or here in self._open_at.get(slot.id, ())
        )


def read_at(outlook: Outlook, here: int) -> int:
    """Return the facts that are read or changed by the own cues of a step, as bits."""
    step = outlook.plan.steps[here]
    read = {*step.needs, *step.establishes, *step.begin_establishes, *step.voids}
    read.update(step.begin_voids)
    read.update(barred_by((*step.establishes, *step.begin_establishes)))
    for rule in touched(step, (*outlook.own_rules, *outlook.held_to)):
        read.update(rule.needs, rule.never)
    for timer in step.timers:
        read.update(timer.overdue_voids)
    return outlook.bits.of(frozenset(read))


def _wordless(step: Step) -> tuple[object, ...]:
    """Return `step` without what is only said, shown or handed: `wordiness` judges that."""
    begin, done = step.begin, step.done
    return (
        step.id, step.optional, step.needs, step.establishes, step.voids, step.begin_establishes,
        step.begin_voids, step.stops, step.done_stops, step.timers, step.asks, step.settles,
        step.closes, done.id, done.tier, None if begin is None else (begin.id, begin.tier),
    )  # fmt: skip


def _phrases(step: Step, tooth: str) -> tuple[str, ...]:
    """Return the phrases of a step's cues, the tooth left open."""
    cues = (step.begin, step.done) if step.begin is not None else (step.done,)
    return tuple(phrase.replace(tooth, "#") for cue in cues for phrase in (cue.id, *cue.phrases))


def _beside_steps(plan: Plan) -> Iterator[Cue]:
    """Yield every cue of `plan` that is no step's."""
    yield from plan.cues
    yield from plan.skip_reasons
    yield from (each.cue for each in plan.emergencies)
    yield from (each.cue for each in plan.happenings)
    for slot in plan.slots:
        yield from (value.cue for value in slot.values)
        if slot.others is not None:
            yield slot.others
