"""Proving a whole library: which plans to explore, on two processes, and what came of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from time import perf_counter

from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan, Rule
from sidecue.procedure.practice import Practice
from sidecue.proof.cases import Census, Distinct, census, signature
from sidecue.proof.exploring import Exploration, Violation, explore
from sidecue.proof.laws import read_back_lacking
from sidecue.proof.properties import Broken

Progress = Callable[[int, int], None]


@dataclass
class Proof:
    """What came of proving one procedure."""

    procedure: str
    variants: int = 0
    refused: int = 0
    unmade: int = 0
    distinct: int = 0
    explored: int = 0
    states: int = 0
    transitions: int = 0
    seconds: float = 0.0  # of work, summed over processes
    violations: list[tuple[str, Violation]] = field(default_factory=list)  # variant, violation

    @property
    def sound(self) -> bool:
        """Whether everything that was explored holds."""
        return not self.violations and not self.unmade


def covering(plans: Sequence[Distinct]) -> list[Distinct]:
    """Return some of `plans` that between them have every neighbourhood of steps that occurs.

    A neighbourhood is a step with the two on either side, the interlocks on what it establishes
    and the happenings of its plan. What a step may do depends on these and on the facts it reads;
    the load-time walk has checked those facts for every variant.
    """
    open_plans = [(each, _neighbourhoods(each.variant.plan)) for each in plans]
    missing = {one for _, some in open_plans for one in some}
    chosen: list[Distinct] = []
    while missing:
        best, some = max(open_plans, key=lambda pair: len(pair[1] & missing))
        chosen.append(best)
        missing -= some
    return chosen


def _neighbourhoods(made: Plan) -> frozenset[object]:
    steps = signature(made)[0]
    if not isinstance(steps, tuple):
        raise TypeError("a signature begins with its steps")
    happenings = tuple(each.cue.id for each in made.happenings)
    found: set[object] = set()
    for number, step in enumerate(made.steps):
        gained = {*step.establishes, *step.begin_establishes}
        rules = tuple(r.id for r in made.rules if r.act in gained or gained.intersection(r.never))
        found.add((steps[max(0, number - 2) : number + 3], rules))
    found.update((name, happenings) for name in happenings)
    return frozenset(found)


def prove(
    library: Library,
    practice: Practice,
    procedures: Iterable[str],
    *,
    every: bool = False,
    workers: int = 2,
    progress: Progress = lambda _done, _all: None,
) -> Iterator[Proof]:
    """Yield the proof of each procedure as it is done. With `every`, every distinct plan is
    explored; else those of `covering`. The interlocks are the library's, whatever a plan holds."""
    proofs: dict[str, Proof] = {}
    work: list[tuple[str, Distinct]] = []
    for name in procedures:
        counted = census(library, name, practice)
        chosen = counted.distinct if every else covering(counted.distinct)
        proofs[name] = _proof(name, counted)
        work += [(name, each) for each in chosen]
    left = {name: sum(1 for other, _ in work if other == name) for name in proofs}
    yield from (proof for name, proof in proofs.items() if not left[name])
    with ProcessPoolExecutor(max_workers=workers) as pool:
        jobs = {
            pool.submit(proven, each.variant.plan, library.rules): (name, each)
            for name, each in work
        }
        for done, job in enumerate(as_completed(jobs), start=1):
            name, each = jobs[job]
            _add(proofs[name], each, job.result())
            progress(done, len(jobs))
            left[name] -= 1
            if not left[name]:
                yield proofs[name]


def proven(made: Plan, rules: Sequence[Rule]) -> Exploration:
    """Explore one plan, held to those of `rules` that apply to its case."""
    began = perf_counter()
    applying = tuple(rule for rule in rules if applies(rule, made))
    found = explore(made, applying)
    own = {rule.id for rule in made.rules}
    for rule in applying:
        if rule.id not in own:
            found.violations.append(Violation(Broken(f"interlock {rule.id}", "is missing"), ()))
    found.violations += [
        Violation(Broken("read back what matters", what), ()) for what in read_back_lacking(made)
    ]
    found.seconds = perf_counter() - began
    return found


def applies(rule: Rule, made: Plan) -> bool:
    """Return whether `rule` applies to the case of a plan."""
    facts = dict(made.case_facts)
    return all(set(values).intersection(facts.get(key, ())) for key, values in rule.when)


def _proof(name: str, counted: Census) -> Proof:
    return Proof(
        name,
        variants=counted.variants,
        refused=counted.refused,
        unmade=counted.unmade,
        distinct=len(counted.distinct),
    )


def _add(proof: Proof, explored: Distinct, found: Exploration) -> None:
    proof.explored += 1
    proof.states += found.states
    proof.transitions += found.transitions
    proof.seconds += found.seconds
    known = {violation.broken for _, violation in proof.violations}
    proof.violations += [
        (explored.variant.told, each) for each in found.violations if each.broken not in known
    ]
