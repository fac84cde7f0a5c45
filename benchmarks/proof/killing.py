"""Trying a damaged library: does loading refuse it, do the laws, or does exploration show it?"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from sidecue.procedure.case import Case
from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_library, placed_case
from sidecue.procedure.plan import Notice, Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.source import LoadError
from sidecue.proof.atlas import Atlas
from sidecue.proof.cases import census
from sidecue.proof.laws import time_faults
from sidecue.proof.proving import applying, broken_in

from .damages import Damage
from .likeness import SideBySide, exchanged, in_either_order, needs_alone, refusing_alike

PRACTICE = "example"
#: In so many visits at most a damaged file is explored.
MOST_VISITS = 2


@dataclass(frozen=True)
class Outcome:
    """Who caught a damage (`loading`, `laws`, `planning`, `exploration`), or nobody.

    `comparison`: the rules file itself is what everything else is held to; a damage there shows
    only beside the file that ships. `alike`: nobody caught it, for it makes no difference (see
    `likeness`); else `why` tells what difference it makes.
    """

    damage: Damage
    by: str
    why: str
    alike: bool = False


class Trial:
    """Tries damages against one sound library. What was asked of sound plans is kept: a damaged
    plan is asked only for what it has not in common with them (`Atlas`, told apart by content; the
    rules are those of the sound library for all)."""

    def __init__(self, flows: Path, visits: Collection[str] | None = None) -> None:
        """Start from the library in `flows`; of `visits` (all by default) every step is there."""
        self._flows = flows
        self._reference = load_library(flows)
        self._atlas = Atlas()
        self._office = self._reference.practices[PRACTICE]
        self._plans: dict[str, tuple[Case, Plan]] = {}  # cases that between them have every step
        for name, source in self._reference.cases.items():
            made = planned(self._reference, name)
            if made.startable:
                self._plans[name] = placed_case(source, self._office.notation), made
        self._complete(self._reference.visits if visits is None else visits)

    def _complete(self, visits: Collection[str]) -> None:
        """Add variants until every step of `visits`, in each of its forms, is in some plan."""
        seen = {step for _, made in self._plans.values() for step in made.steps}
        forms = {replace(step, say="", timers=()) for step in seen}
        for visit in visits:
            for each in census(self._reference, visit, self._office).distinct:
                steps = {replace(step, say="", timers=()) for step in each.variant.plan.steps}
                if not steps <= forms:
                    forms |= steps
                    name = f"{visit}: {each.variant.told}"
                    self._plans[name] = each.variant.case, each.variant.plan

    def tried(self, damage: Damage) -> Outcome:
        """Load, plan and explore the damaged library, held to the rules of the sound one. Explored
        are plans that the damage changes; in the first, which has most of the
        damaged file's steps, an uncaught one is compared with the sound plan."""
        reference = self._reference
        with TemporaryDirectory() as folder:
            target = Path(folder) / "flows"
            damage.made_in(self._flows, target)
            try:
                library = load_library(target)
            except LoadError as error:
                return Outcome(damage, "loading", str(error.faults[0].what))
        faults = list(time_faults(library))
        if faults:
            return Outcome(damage, "laws", faults[0].what)
        if damage.file == "rules.yaml" and library.rules != reference.rules:
            lacking = {rule.id for rule in set(reference.rules) - set(library.rules)}
            return Outcome(damage, "comparison", f"not the interlock that ships: {min(lacking)}")
        compared, why = False, ""
        for case, made in self._differing(library, Path(damage.file).stem):
            if not made.startable:
                notice = (*made.blocks, *made.questions)[0]
                text = notice.text if isinstance(notice, Notice) else str(notice)
                return Outcome(damage, "planning", text)
            found = broken_in(made, reference.rules, self._atlas)
            if found:
                broken = min(found, key=lambda each: (each.name, each.what))
                return Outcome(damage, "exploration", f"{broken.name}: {broken.what}")
            if not compared:
                compared, why = True, self._difference(self._plans[case][1], made)
        return Outcome(damage, "", why, alike=not why)

    def _differing(self, library: Library, part: str) -> Iterator[tuple[str, Plan]]:
        """Yield plans that the damage changes, of each visit the one that has most steps of the
        damaged file, and of them the first few. None: the damage is in no plan at all."""
        visits: set[str] = set()
        order = sorted(
            self._plans, key=lambda name: -sum(s.part == part for s in self._plans[name][1].steps)
        )
        for case in order:
            given, sound = self._plans[case]
            if sound.procedure in visits or len(visits) == MOST_VISITS:
                continue
            office = library.practices[PRACTICE]
            made = plan(library, sound.procedure, given, office)
            if made != sound:
                visits.add(sound.procedure)
                yield case, made

    def _difference(self, sound: Plan, damaged: Plan) -> str:
        """Return what tells the damaged plan from the sound one, in words; empty when nothing
        does."""
        if [step.id for step in sound.steps] != [step.id for step in damaged.steps]:
            for one, other in exchanged(sound, damaged):
                if not in_either_order(sound, one, other):
                    return f"{one.id} and {other.id} concern each other"
            return ""
        rules = applying(sound, self._reference.rules)
        if needs_alone(sound, damaged):
            return refusing_alike(sound, damaged, rules, self._atlas)
        return SideBySide(sound, damaged, rules).difference() or ""


def planned(library: Library, case: str) -> Plan:
    """Return the plan of a shipped case."""
    practice = library.practices[PRACTICE]
    placed = placed_case(library.cases[case], practice.notation)
    return plan(library, choose_procedure(library, placed, practice), placed, practice)
