"""Cases of every kind for the shipped procedures, made from what a case may say."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from random import Random

from shipped_library import shipped
from sidecue.procedure.case import Case, CaseFault, case_of
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import PlanError, choose_procedure, plan
from sidecue.procedure.schema import CaseFile

TEETH = ("11", "22", "33", "43", "14", "25", "34", "45", "16", "26", "37", "46", "54", "75")
SURFACES = ("M", "O", "I", "MO", "DO", "MOD", "MOB", "MODL", "MI", "DIF", "MF", "B", "F", "L")
MATERIALS = ("composite", "amalgam", "glass-ionomer", "resin-glass-ionomer", "interim", "sealant")
CHOICES: dict[str, tuple[object, ...]] = {
    "isolation": ("dam", "rolls"),
    "adhesive": (None, "total-etch", "selective-etch", "self-etch"),
    "liner": (None, "none", "calcium-hydroxide", "calcium-hydroxide-covered", "glass-ionomer"),
    "sealer": (None, "none", "varnish", "resin-sealer"),
    "matrix": (None, None, "sectional", "band", "clear-strip", "cervical", "none"),
    "bulk-fill": (False, True),
    "deep-box": (False, True),
    "cusp-tip": (False, False, False, True),
    "cervical": (None, True, False),
    "depth-mm": (1.5, 2, 3, 4, 6),
    "remaining-dentine-mm": (None, 0.4, 1, 2),
    "anaesthetic": (None, "none", "lidocaine-epinephrine-100k", "articaine"),
    "topical": (True, False),
    "age-years": (None, 7, 34, 71),
    "strictly-necessary": (None, True),
    "date": ("2024-05-02", "2026-03-31"),
    "flags": ([], [], ["latex"], ["heart", "asthma"], ["pregnancy"], ["resin"], ["eugenol"]),
}


def random_entry(random: Random) -> dict[str, object]:
    """Return what one case might say, possible or not."""
    entry: dict[str, object] = {
        "tooth": random.choice(TEETH),
        "surfaces": random.choice(SURFACES),
        "material": random.choice(MATERIALS),
    }
    return entry | {key: random.choice(values) for key, values in CHOICES.items()}


def cases(count: int, seed: int) -> Iterator[Case]:
    """Yield `count` possible cases, the same ones every time."""
    random = Random(seed)
    while count:
        try:
            case = case_of(CaseFile.model_validate(random_entry(random)), "iso")
        except CaseFault:
            continue
        count -= 1
        yield case


@cache
def shipped_plans(count: int = 400, seed: int = 15) -> tuple[Plan, ...]:
    """Return the plans of `count` cases that a shipped visit fits."""
    library = shipped()
    office = library.practices["example"]
    plans = []
    for case in cases(count, seed):
        try:
            name = choose_procedure(library, case, office)
        except PlanError:
            continue
        plans.append(plan(library, name, case, office))
    return tuple(plans)


@cache
def polishing_plans(count: int = 400, seed: int = 15) -> tuple[Plan, ...]:
    """Return the plans of the same cases, come back to have their filling polished."""
    library = shipped()
    office = library.practices["example"]
    plans = []
    for case in cases(count, seed):
        back = replace(case, entry=case.entry.model_copy(update={"visit": "polishing"}))
        try:
            name = choose_procedure(library, back, office)
        except PlanError:
            continue
        plans.append(plan(library, name, back, office))
    return tuple(plans)


def all_plans() -> tuple[Plan, ...]:
    """Return the plans of placing and of polishing visits."""
    return shipped_plans() + polishing_plans()


def chosen(plans: tuple[Plan, ...], **facts: str) -> list[Plan]:
    """Return the plans whose case has each of these facts (underscores for hyphens)."""
    wanted = {key.replace("_", "-"): value for key, value in facts.items()}
    return [
        each
        for each in plans
        if all(value in dict(each.case_facts)[key] for key, value in wanted.items())
    ]
