"""One plan as its states see it: what of the plan can matter at each step, as numbers to compare.

Two plans are alike at a step in one respect when they have equal numbers for it. A place (`places`)
brings the plans together that have a step in common and are alike in what its own cues and the
clock read (`own`); for the rest (`further`, `heard`, `backs`, `lives`) they are told apart only
where a state shows a difference.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property, reduce
from itertools import accumulate
from operator import or_

from sidecue.procedure.interlocks import matches
from sidecue.procedure.plan import Plan, Rule, Slot, Step
from sidecue.proof.abstraction import Abstraction
from sidecue.proof.atlas import About, Atlas, Leads
from sidecue.proof.demands import demands, touched
from sidecue.proof.laws import barred_by
from sidecue.session.listening import ahead_of, watched
from sidecue.session.state import Asking, SessionState
from sidecue.session.timers import stopped_elsewhere
from sidecue.session.values import fewer_values, stretches


class Outlook:
    """The outlook of one plan; `rules` are what its properties read beside its own."""

    def __init__(self, plan: Plan, rules: Iterable[Rule], atlas: Atlas) -> None:
        self.plan = plan = fewer_values(plan)
        self.held_to = tuple(rules)
        self.abstraction = Abstraction(plan, self.held_to)
        self.atlas, self.bits = atlas, atlas.bits
        bits = self.bits
        case = dict(plan.case_facts)
        self.own_rules = tuple(rule for rule in plan.rules if matches(rule.when, case))
        self.following = demands(plan, bits)
        watch = watched(plan)
        self.ahead = [ahead_of(here, watch, len(plan.steps)) for here in range(len(plan.steps))]
        self.stopped = stopped_elsewhere(plan)
        self.spoilable = bits.of(self.abstraction.spoilable)
        self.closing = bits.of(self.abstraction.closing)
        self.happenings = {each.cue.id: each for each in plan.happenings}
        self.possible = self._so_far([
            bits.of((*step.establishes, *step.begin_establishes)) for step in plan.steps
        ])  # fmt: skip
        self.ending = list(self._ending())
        self._ends_ahead: dict[int, tuple[tuple[int, int], ...]] = {}
        self._open_at = stretches(plan)
        self._leading = [
            (spec.name, spec.overdue_back_to)
            for step in plan.steps
            for spec in step.timers
            if spec.overdue_back_to is not None
        ]

    # -- what is alike ---------------------------------------------------------------------------

    @cached_property
    def numbers(self) -> dict[str, list[int]]:
        """The numbers of each step, by what they are for."""
        number, own, aside = self.atlas.number, self.own(), self.aside()
        slots = [
            number((here, self.plan.anaesthetic)) if here else None
            for here in map(self._slots_at, range(len(self.plan.steps)))
        ]
        return {
            "own": own, "aside": aside,
            "own, values": [number(("own", *each)) for each in zip(own, slots, strict=True)],
            "aside, values": [number(("aside", *each)) for each in zip(aside, slots, strict=True)],
            "further": self.further(), "heard": self.heard(), "backs": self.backs(),
            "lives": self.lives(), "forms": self.forms(),
        }  # fmt: skip

    def own(self) -> list[int]:
        """Return, for each step, the number of all that its own cues and the clock read of the
        plan; beside the slots there, all that the answer to a value reads, too."""
        number, plan = self.atlas.number, self.plan
        whole = number((plan.cues, plan.skip_reasons, plan.emergencies))
        following = (*(step.id for step in plan.steps[1:]), None)
        return [
            number((
                "own", whole, _wordless(step), after,
                tuple(rule.id for rule in touched(step, self.own_rules)),
                tuple(rule.id for rule in touched(step, self.held_to)),
                tuple(slot for slot in plan.slots if slot.id in step.asks) if step.asks else (),
                plan.anaesthetic if step.asks else None,
                tuple(timer.name in self.stopped for timer in step.timers),
            ))
            for step, after in zip(plan.steps, following, strict=True)
        ]  # fmt: skip

    def forms(self) -> list[int]:
        """Return, for each step, the number of all that decides what a form keeps there, facts
        aside."""
        number, first = self.atlas.number, self.abstraction.first_value
        found = []
        for here in range(len(self.plan.steps)):
            settling = self.abstraction.settling[here]
            shown = settling.union(slot.id for slot, _ in self._slots_at(here))
            found.append(number((
                "forms", self.abstraction.referred, settling, self.spoilable, self.leads(here),
                tuple((name, first.get(name)) for name in sorted(shown)),
                self.plan.emergencies[:1],
            )))  # fmt: skip
        return found

    def leads(self, here: int) -> Leads:
        """Return the timers that lead back once they pass, and whether that is back from `here`."""
        index = self.plan.step_index
        return tuple((name, index[back] <= here) for name, back in self._leading)

    def aside(self) -> list[int]:
        """Return, for each step, the number of all that is read by what leaves the work as it is,
        beside the slots there: the language, and whether the step has a beginning."""
        number, plan = self.atlas.number, self.plan
        whole = number((plan.cues, plan.skip_reasons, plan.emergencies))
        return [
            number(("aside", whole, step.id, step.begin is None, step.asks, step.settles))
            for step in plan.steps
        ]

    def further(self) -> list[int]:
        """Return, for each step, the number of all that a skip and the cues of later steps read."""
        number, steps = self.atlas.number, self.plan.steps
        asked = [number(each) for each in self.following]
        return [
            number((
                "further", steps[here].id, steps[here].begin is None, asked[here + 1],
                tuple((steps[there].id, asked[there]) for there in self.ahead[here]),
                self.ends_ahead(here),
            ))
            for here in range(len(steps))
        ]  # fmt: skip

    def heard(self) -> list[int]:
        """Return, for each step, the number of all that decides what may be said there."""
        number, plan, steps = self.atlas.number, self.plan, self.plan.steps
        whole = number((plan.cues, plan.skip_reasons, plan.emergencies))
        tooth = plan.tooth_spoken.partition(",")[0]
        entries = [number((step.id, _phrases(step, tooth))) for step in steps]
        return [
            number((
                "heard", whole, entries[here], tuple(entries[there] for there in self.ahead[here]),
                self._slots_at(here),
            ))
            for here in range(len(steps))
        ]  # fmt: skip

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
                    (cue, *(each & possible for each in facts)) for cue, *facts in happenings
                ),
            )))  # fmt: skip
        return found

    def backs(self) -> list[int]:
        """Return, for each step, the number of what can happen there that leads back."""
        number, index = self.atlas.number, self.plan.step_index
        return [
            number(("backs", tuple(
                (each, index[each.back_to] <= here)
                for each in self.plan.happenings
            )))
            for here in range(len(self.plan.steps))
        ]  # fmt: skip

    # -- what these are made of ------------------------------------------------------------------

    def about(self, state: SessionState) -> About:
        """Return what of the plan an answer to the question of `state` will read."""
        asked = state.question
        if asked is None or asked.about is not Asking.HAPPENING:
            return None
        told, index = self.happenings[asked.target], self.plan.step_index
        return told, index[told.back_to] <= index[state.step]

    def leaving(self, here: int) -> int:
        """Return the number of what leaving the step out and jumping read beside the facts."""
        steps = self.plan.steps
        ahead = tuple(steps[there].id for there in self.ahead[here])
        step = steps[here]
        return self.atlas.number((step.id, step.begin is None, ahead, self.ends_ahead(here)))

    def ends_ahead(self, here: int) -> tuple[tuple[int, int], ...]:
        """Return, for leaving the step out and for each jump, the timers that the steps left out
        would have ended and those that the step jumped to ends, as bits."""
        known = self._ends_ahead.get(here)
        if known is None:
            found = []
            out, at = 0, here
            for there in (here + 1, *self.ahead[here]):
                out = reduce(or_, self.ending[at:there], out)
                at = there
                found.append((out, self.ending[there]))
            known = self._ends_ahead[here] = tuple(found)
        return known

    def _ending(self) -> Iterator[int]:
        """Yield, for each step, the timers that end with it, as bits; and none for the end."""
        for step in self.plan.steps:
            own = {timer.name for timer in step.timers} - self.stopped
            yield self.bits.of({*step.stops, *step.done_stops, *own})
        yield 0

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
