"""Trying a damaged library: does loading refuse it, do the laws, or does exploration show it?"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_library, placed_case
from sidecue.procedure.plan import Notice, Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.source import LoadError
from sidecue.proof.laws import time_faults
from sidecue.proof.proving import broken_in

from .damages import Damage

PRACTICE = "example"


@dataclass(frozen=True)
class Outcome:
    """Who caught a damage (`loading`, `laws`, `planning`, `exploration`), or nobody.

    `comparison`: the rules file itself is what everything else is held to; a damage there shows
    only beside the file that ships.
    """

    damage: Damage
    by: str
    why: str


def tried(damage: Damage, flows: Path, reference: Library) -> Outcome:
    """Load, plan and explore the damaged library, held to the rules of the sound one. Explored is
    the plan of the shipped case that has most of the damaged file's steps."""
    with TemporaryDirectory() as folder:
        target = Path(folder) / "flows"
        damage.made_in(flows, target)
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
    made = planned(library, case_for(Path(damage.file).stem, flows))
    if not made.startable:
        notice = (*made.blocks, *made.questions)[0]
        return Outcome(
            damage, "planning", notice.text if isinstance(notice, Notice) else str(notice)
        )
    found = broken_in(made, reference.rules)
    if found:
        broken = min(found, key=lambda each: (each.name, each.what))
        return Outcome(damage, "exploration", f"{broken.name}: {broken.what}")
    return Outcome(damage, "", "")


@cache
def case_for(part: str, flows: Path) -> str:
    """Return the shipped case whose plan has most steps of a file."""
    library = load_library(flows)
    plans = {name: planned(library, name) for name in library.cases}
    startable = [name for name, made in plans.items() if made.startable]
    return max(startable, key=lambda name: sum(step.part == part for step in plans[name].steps))


def planned(library: Library, case: str) -> Plan:
    """Return the plan of a shipped case."""
    practice = library.practices[PRACTICE]
    placed = placed_case(library.cases[case], practice.notation)
    return plan(library, choose_procedure(library, placed, practice), placed, practice)
