"""What the steps ahead ask of the facts, worked out once for a plan, as sets of bits.

A second reading of what `session.holds` refuses by: when a later step may be jumped to, or the
current one left out. It tells alike states apart from unlike ones in `asking`; whenever the
machine is asked, its answer is compared with this one, and a difference is a violation.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sidecue.procedure.interlocks import matches
from sidecue.procedure.plan import Plan, Rule, Step


class Bits:
    """Facts as bits of a number, for one library."""

    def __init__(self) -> None:
        self._bit: dict[str, int] = {}
        self._facts: list[str] = []
        self._known: dict[frozenset[str], int] = {}
        self._back: dict[int, frozenset[str]] = {}

    def of(self, facts: Iterable[str]) -> int:
        """Return `facts` as bits."""
        found = facts if isinstance(facts, frozenset) else frozenset(facts)
        bits = self._known.get(found)
        if bits is None:
            bits = 0
            for fact in found:
                if fact not in self._bit:
                    self._bit[fact] = 1 << len(self._facts)
                    self._facts.append(fact)
                bits |= self._bit[fact]
            self._known[found] = bits
        return bits

    def facts(self, bits: int) -> frozenset[str]:
        """Return the facts that `bits` stand for."""
        found = self._back.get(bits)
        if found is None:
            found = frozenset(f for n, f in enumerate(self._facts) if bits >> n & 1)
            self._back[bits] = found
        return found


@dataclass(frozen=True, slots=True)
class Demand:
    """`needs` must hold, and of each of `never` something must not; None can meet it when not
    `possible`."""

    needs: int
    never: frozenset[int]
    possible: bool = True

    def met(self, facts: int) -> bool:
        """Return whether `facts` meet it."""
        return (
            self.possible and self.needs & ~facts == 0 and all(each & ~facts for each in self.never)
        )

    def and_also(self, other: Demand) -> Demand:
        """Return the demand that is both."""
        return Demand(
            self.needs | other.needs, self.never | other.never, self.possible and other.possible
        )

    def before(self, gained: int, lost: int) -> Demand:
        """Return what must hold before `lost` are lost and then `gained` gained, for this to be
        met after."""
        needs = self.needs & ~gained
        left = {each & ~gained for each in self.never}
        return Demand(
            needs,
            frozenset(each for each in left if not each & lost),  # what is lost breaks the set
            self.possible and not needs & lost and 0 not in left,
        )


NOTHING = Demand(0, frozenset())


def demands(plan: Plan, bits: Bits) -> list[Demand]:
    """Return, for each step, what must hold for it and every step after it to be done in order,
    nothing being left out; and last, for the end, nothing."""
    case = dict(plan.case_facts)
    rules = [rule for rule in plan.rules if matches(rule.when, case)]
    following = [NOTHING]
    for step in reversed(plan.steps):
        following.append(before_step(step, rules, following[-1], bits))
    following.reverse()
    return following


def before_step(step: Step, rules: Iterable[Rule], later: Demand, bits: Bits) -> Demand:
    """Return what must hold for `step` to be done, and then what `later` is met by."""
    later = later.before(bits.of(step.establishes), bits.of(step.voids))
    later = later.before(bits.of(step.begin_establishes), bits.of(step.begin_voids))
    return entry(step, rules, bits).and_also(later)


def entry(step: Step, rules: Iterable[Rule], bits: Bits) -> Demand:
    """Return what `step` asks at its entry: its needs, and the interlocks on all it will bring."""
    touching = tuple(touched(step, rules))
    done = _ruled(step.establishes, step.voids, touching, bits)
    asked = Demand(bits.of(step.needs), frozenset())
    if step.begin is None:
        return asked.and_also(done)
    begun = _ruled(step.begin_establishes, step.begin_voids, touching, bits)
    later = done.before(bits.of(step.begin_establishes), bits.of(step.begin_voids))
    return asked.and_also(begun).and_also(later)


def _ruled(gains: Iterable[str], voids: Iterable[str], rules: Iterable[Rule], bits: Bits) -> Demand:
    gained, lost = bits.of(gains), bits.of(voids)
    needs = 0
    never: set[int] = set()
    for rule in rules:
        if rule.act is not None and bits.of((rule.act,)) & gained:
            needs |= bits.of(rule.needs)
        together = bits.of(rule.never)
        if together & gained and not together & ~gained & lost:
            never.add(together & ~gained)
    return Demand(needs, frozenset(never), 0 not in never)


def touched(step: Step, rules: Iterable[Rule]) -> Iterator[Rule]:
    """Yield those of `rules` that anything `step` establishes is judged by."""
    gained = {*step.establishes, *step.begin_establishes}
    return (rule for rule in rules if rule.act in gained or not gained.isdisjoint(rule.never))
