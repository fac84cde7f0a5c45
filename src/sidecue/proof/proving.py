"""Proving a whole library: every plan of every procedure, on two processes, and what came of it."""

from __future__ import annotations

import gc
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from time import perf_counter

from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan, Rule
from sidecue.procedure.practice import Practice
from sidecue.proof.atlas import Atlas
from sidecue.proof.cases import Distinct, census, expected_work
from sidecue.proof.exploring import Exploration, Violation
from sidecue.proof.family import Family
from sidecue.proof.laws import read_back_lacking
from sidecue.proof.properties import Broken
from sidecue.proof.wordiness import too_long

Progress = Callable[[int, int], None]


@dataclass
class Proof:
    """What came of proving one procedure. `explored` counts distinct plans; `states` and
    `transitions` are summed over them; `tried` is what the machine itself was asked."""

    procedure: str
    variants: int = 0
    refused: int = 0
    unmade: int = 0
    distinct: int = 0
    explored: int = 0
    states: int = 0
    transitions: int = 0
    tried: int = 0
    seconds: float = 0.0  # of work, summed over processes
    violations: list[tuple[str, Violation]] = field(default_factory=list)  # variant, violation

    @property
    def sound(self) -> bool:
        """Whether every plan was explored, and all of it holds."""
        return not self.violations and not self.unmade and self.explored == self.distinct


def prove(
    library: Library,
    practice: Practice,
    procedures: Iterable[str],
    *,
    workers: int = 2,
    progress: Progress = lambda _done, _all: None,
) -> Iterator[Proof]:
    """Yield the proof of each procedure as it is done: all its plans, explored completely.

    The interlocks are the library's, whatever a plan holds.
    """
    names = sorted(procedures, key=lambda name: -expected_work(library, name))
    if len(names) == 1 or workers == 1:
        atlas = Atlas()
        for done, name in enumerate(names, start=1):
            yield proven_all(library, practice, name, atlas)
            progress(done, len(names))
        return
    with ProcessPoolExecutor(workers, initializer=_begin, initargs=(library, practice)) as pool:
        jobs = [pool.submit(_proven_here, name) for name in names]
        for done, job in enumerate(as_completed(jobs), start=1):
            yield job.result()
            progress(done, len(jobs))


#: What a worker process works with, and what it has learnt so far.
_HERE: dict[str, tuple[Library, Practice, Atlas]] = {}


def _begin(library: Library, practice: Practice) -> None:
    gc.disable()  # nothing here goes round in circles, and looking for it costs a tenth
    _HERE["work"] = library, practice, Atlas()


def _proven_here(name: str) -> Proof:
    library, practice, atlas = _HERE["work"]
    return proven_all(library, practice, name, atlas)


def proven_all(library: Library, practice: Practice, name: str, atlas: Atlas) -> Proof:
    """Explore every plan of procedure `name`. `atlas` is for plans of one library only."""
    began = perf_counter()
    counted = census(library, name, practice)
    plans = [each.variant.plan for each in counted.distinct]
    held_to = [applying(made, library.rules) for made in plans]
    found = Family(plans, held_to, atlas).explore()
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
    )
    faults = [(number, each) for number, each in found.violations]
    for number, (made, rules) in enumerate(zip(plans, held_to, strict=True)):
        faults += [(number, each) for each in standing_faults(made, rules, atlas.measured)]
    proof.violations = _each_once(counted.distinct, faults)
    proof.seconds = perf_counter() - began
    return proof


def proven(made: Plan, rules: Sequence[Rule]) -> Exploration:
    """Explore one plan, held to those of `rules` that apply to its case."""
    began = perf_counter()
    held_to = applying(made, rules)
    found = Family([made], [held_to], Atlas()).explore()
    faults = [fault for _, fault in found.violations]
    faults += standing_faults(made, held_to, set())
    return Exploration(
        states=found.states,
        transitions=found.transitions,
        tried=found.tried,
        seconds=perf_counter() - began,
        violations=faults,
    )


def broken_in(made: Plan, rules: Sequence[Rule]) -> frozenset[Broken]:
    """Return what was first found broken in one plan, without the way there; empty when nothing
    is. Much sooner told than `proven`."""
    held_to = applying(made, rules)
    standing = frozenset(fault.broken for fault in standing_faults(made, held_to, set()))
    if standing:
        return standing
    family = Family([made], [held_to], Atlas())
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
