"""Proving a procedure: every plan of it explored, and what is wrong with a plan as it stands."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from time import perf_counter

from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan, Rule, TimerKind
from sidecue.procedure.practice import Practice
from sidecue.proof.atlas import Atlas
from sidecue.proof.cases import Census, Distinct, census, covering
from sidecue.proof.demands import Bits, Demand
from sidecue.proof.exploring import Exploration, Violation
from sidecue.proof.family import Family
from sidecue.proof.laws import read_back_lacking
from sidecue.proof.leaving_out import wrongly_left_out
from sidecue.proof.properties import Broken
from sidecue.proof.verdict import Proof
from sidecue.proof.wordiness import too_long
from sidecue.session.timers import stopped_elsewhere

Tell = Callable[[float], None]  # the part of one procedure that is done

#: A procedure tells so often how far it is. Few: nobody may be reading.
_TOLD = 20
#: The part of a procedure's work that is planning its variants, about.
PLANNING = 0.15


def proven_all(
    library: Library,
    practice: Practice,
    name: str,
    atlas: Atlas,
    tell: Tell = lambda _done: None,
) -> Proof:
    """Explore every plan of procedure `name`. `atlas` is for plans of one library only; `tell`
    hears now and then which part of the work is done."""
    began = perf_counter()
    counted = census(library, name, practice)
    tell(PLANNING)
    proof = walked(library, name, counted, atlas, tell)
    proof.seconds = perf_counter() - began
    return proof


def walked(library: Library, name: str, counted: Census, atlas: Atlas, tell: Tell) -> Proof:
    """Explore the plans of a census of procedure `name`."""
    began = perf_counter()
    plans = [each.variant.plan for each in counted.distinct]
    held_to = [applying(made, library.rules) for made in plans]
    family = Family(plans, held_to, atlas)
    found = family.explore(_seldom(tell))
    proof = Proof(
        name,
        variants=counted.variants,
        refused=counted.refused,
        unmade=counted.unmade,
        distinct=len(plans),
        explored=found.plans,
        states=found.states,
        transitions=found.transitions,
        tried=found.tried,
        samples=tuple(counted.distinct[number].variant.sample for number in covering(plans)),
    )
    faults = [(number, each) for number, each in found.violations]
    for number, (made, rules) in enumerate(zip(plans, held_to, strict=True)):
        following = family.following(number)
        standing = [
            *standing_faults(made, rules, atlas.measured),
            *undone_faults(made, atlas.bits, following),
        ]
        faults += [(number, each) for each in standing]
    proof.violations = _each_once(counted.distinct, faults)
    proof.seconds = perf_counter() - began
    return proof


def _seldom(tell: Tell) -> Tell:
    """Return what passes on only so many parts of a walk, as parts of the whole."""
    last = 0

    def told(done: float) -> None:
        nonlocal last
        if int(done * _TOLD) > last:
            last = int(done * _TOLD)
            tell(PLANNING + (1.0 - PLANNING) * done)

    return told


def proven(made: Plan, rules: Sequence[Rule]) -> Exploration:
    """Explore one plan, held to those of `rules` that apply to its case."""
    began = perf_counter()
    held_to = applying(made, rules)
    found = Family([made], [held_to], Atlas()).explore()
    faults = [fault for _, fault in found.violations]
    faults += [*standing_faults(made, held_to, set()), *undone_faults(made, Bits())]
    return Exploration(
        states=found.states,
        transitions=found.transitions,
        tried=found.tried,
        seconds=perf_counter() - began,
        violations=faults,
    )


def broken_in(made: Plan, rules: Sequence[Rule], atlas: Atlas | None = None) -> frozenset[Broken]:
    """Return what was first found broken in one plan, without the way there; empty when nothing
    is. Much sooner told than `proven`. With an `atlas`, what it knows is not asked again."""
    held_to = applying(made, rules)
    faults = (*standing_faults(made, held_to, set()), *undone_faults(made, Bits()))
    standing = frozenset(fault.broken for fault in faults)
    if standing:
        return standing
    family = Family([made], [held_to], atlas or Atlas())
    family.walk(stop_at_a_fault=True)
    return family.broken_of(0)


def applying(made: Plan, rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """Return those of `rules` that apply to the case of a plan."""
    facts = dict(made.case_facts)
    return tuple(
        rule
        for rule in rules
        if all(set(values).intersection(facts.get(key, ())) for key, values in rule.when)
    )


def standing_faults(
    made: Plan, rules: Iterable[Rule], measured: set[Hashable]
) -> Iterator[Violation]:
    """Yield what is wrong with a plan as it stands: an interlock of `rules` that is missing or
    weaker, a read-back that is missing, a refusal or a prompt that is too long (`measured` keeps
    those that were looked at)."""
    own = {rule.id: rule for rule in made.rules}
    for rule in rules:
        mine = own.get(rule.id)
        if mine is None:
            yield Violation(Broken(f"interlock {rule.id}", "is missing"), ())
        elif (mine.act, mine.never) != (rule.act, rule.never) or set(rule.needs) - set(mine.needs):
            yield Violation(Broken(f"interlock {rule.id}", "is not as the library has it"), ())
    for what in read_back_lacking(made):
        yield Violation(Broken("read back what matters", what), ())
    for text in too_long(made, measured):
        yield Violation(Broken("at most eight words", f"{text!r} is too long"), ())


def undone_faults(
    made: Plan, bits: Bits, following: Sequence[Demand] | None = None
) -> Iterator[Violation]:
    """Yield what a plan lets be left out and must not, and steps that bring nothing about: nobody
    could ask whether they were done. `following` as for `wrongly_left_out`."""
    for what in wrongly_left_out(made, bits, following):
        yield Violation(Broken("what must be done is not left out", what), ())
    for step in made.steps:
        if not (step.establishes or step.begin_establishes):
            yield Violation(
                Broken("every step brings something about", f"{step.id!r} does not"), ()
            )
    stopped = stopped_elsewhere(made)
    for step in made.steps:
        for spec in step.timers:
            told = step.begin is None or spec.kind is TimerKind.COUNT_DOWN  # outlives its step
            if told and spec.name not in stopped:
                what = f"{spec.name!r} of {step.id!r} runs until nobody listens"
                yield Violation(Broken("every timer has an end", what), ())


def _each_once(
    plans: Sequence[Distinct], faults: Iterable[tuple[int, Violation]]
) -> list[tuple[str, Violation]]:
    known: set[Broken] = set()
    kept: list[tuple[str, Violation]] = []
    for number, fault in faults:
        if fault.broken not in known:
            known.add(fault.broken)
            kept.append((plans[number].variant.told, fault))
    return kept
