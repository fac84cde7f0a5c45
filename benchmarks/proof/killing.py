"""Trying a damaged library: does loading refuse it, do the laws, or does exploration show it?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory

from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_library, placed_case
from sidecue.procedure.plan import Notice, Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.source import LoadError
from sidecue.proof.atlas import Atlas
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

    def __init__(self, flows: Path) -> None:
        self._flows = flows
        self._reference = load_library(flows)
        self._atlas = Atlas()
        plans = {name: planned(self._reference, name) for name in self._reference.cases}
        self._plans = {name: made for name, made in plans.items() if made.startable}

    def tried(self, damage: Damage) -> Outcome:
        """Load, plan and explore the damaged library, held to the rules of the sound one. Explored
        are plans of shipped cases that the damage changes; in the first, which has most of the
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
                compared, why = True, self._difference(self._plans[case], made)
        return Outcome(damage, "", why, alike=not why)

    def _differing(self, library: Library, part: str) -> Iterator[tuple[str, Plan]]:
        """Yield plans of shipped cases that the damage changes, of each visit the one that has most
        steps of the damaged file, and of them the first few."""
        visits: set[str] = set()
        order = sorted(
            self._plans, key=lambda name: -sum(s.part == part for s in self._plans[name].steps)
        )
        for case in order:
            sound = self._plans[case]
            if sound.procedure in visits or len(visits) == MOST_VISITS:
                continue
            made = planned(library, case)
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
