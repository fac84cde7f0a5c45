"""Everything a case may say, combined, as entries of a case file with the office they are for.

A full product of everything is beyond counting. Each group here crosses some facts whole; which,
and why that is enough, is told and checked in `independence`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from functools import cache
from itertools import combinations as some_of
from itertools import product
from typing import Any, get_args

from sidecue.clinical.amalgam import Alloy
from sidecue.clinical.anaesthetic import SOLUTIONS
from sidecue.clinical.matrix import MatrixKind
from sidecue.clinical.teeth import Tooth
from sidecue.procedure.case import CaseFault, case_of
from sidecue.procedure.case_facts import CASE_FACTS, tooth_facts
from sidecue.procedure.practice import Material, Practice
from sidecue.procedure.schema import CaseFile

Entry = dict[str, Any]
#: What differs from the example practice: a field of the practice, or `ROLE.kind`, `ROLE.supply`.
Office = tuple[tuple[str, object], ...]
Combination = tuple[Entry, Office]

TEETH = tuple(
    10 * quadrant + position
    for quadrant in range(1, 9)
    for position in range(1, 9 if quadrant < 5 else 6)
)
#: One tooth of every kind, above and below: what procedures tell apart.
ONE_OF_EACH = (11, 13, 14, 16, 41, 43, 44, 46, 51, 53, 54, 81, 83, 84)
SURFACES = tuple("".join(some) for size in range(1, 6) for some in some_of("MODIBLP", size))
MATERIALS = ("composite", "amalgam", "glass-ionomer", "resin-glass-ionomer", "interim", "sealant")
ISOLATIONS = ("dam", "rolls")
MATRICES = (None, *(kind.value for kind in MatrixKind))
FLAGS: tuple[str, ...] = get_args(get_args(CaseFile.model_fields["flags"].annotation)[0])
VISITS = ("placing", "polishing")
LINERS = (None, *get_args(get_args(CaseFile.model_fields["liner"].annotation)[0]))
SEALERS = (None, *get_args(get_args(CaseFile.model_fields["sealer"].annotation)[0]))
ADHESIVES = (None, *get_args(get_args(CaseFile.model_fields["adhesive"].annotation)[0]))
REPLACES = (None, *get_args(get_args(CaseFile.model_fields["replaces"].annotation)[0]))
DAYS = ("2017-12-31", "2019-01-01", "2024-12-31", "2025-01-01", "2026-06-30", "2026-07-01", None)
AGES = (None, 3, 14, 15, 40)
#: One age in every span between two steps of the eruption chart.
DAM_AGES = (None, 5, 7, 8, 9, 10, 11, 12, 13, 40)
JURISDICTIONS = ("eu", "us", "northern-ireland", "other")
NUMBING = (None, "none", "lidocaine", *SOLUTIONS)
_USUAL: Entry = {"depth-mm": 3, "date": "2024-05-02", "strictly-necessary": True}
_BASES = CASE_FACTS["base"]


def valid(entry: Entry) -> bool:
    """Return whether such a case can be: its tooth has these surfaces, and the matrix fits."""
    try:
        case_of(CaseFile.model_validate(entry), "iso")
    except CaseFault:
        return False
    return True


def cavities(teeth: Iterable[int] = TEETH) -> Iterator[Combination]:
    """Yield every one of `teeth` with all its valid surfaces, places, matrices, materials and
    isolations."""
    return ((entry, ()) for entry in _cavities(teeth))


def _cavities(teeth: Iterable[int]) -> Iterator[Entry]:
    for tooth, surfaces in product(teeth, SURFACES):
        base: Entry = {"tooth": str(tooth), "surfaces": surfaces, **_USUAL}
        probe = {**base, "material": "composite", "isolation": "dam"}
        places: tuple[Entry, ...] = ({},)
        if set(surfaces) <= {"B", "L", "P"}:
            places = ({"cervical": True}, {"cervical": False}, {})
        elif surfaces == "O":
            places = ({}, {"cusp-tip": True})
        for place in places:
            if not valid({**probe, **place}):
                continue
            for material, matrix in product(MATERIALS, MATRICES):
                entry = {**base, **place, "material": material, "matrix": matrix}
                if not valid({**entry, "isolation": "dam"}):
                    continue
                boxes = (False, True) if boxed(tooth, surfaces) else (False,)
                for isolation, deep_box in product(ISOLATIONS, boxes):
                    yield {**entry, "isolation": isolation, "deep-box": deep_box}


def boxed(tooth: int, surfaces: str) -> bool:
    """Return whether the cavity has a proximal box, which alone can reach below the gum."""
    return Tooth(tooth).posterior and not {"M", "D"}.isdisjoint(surfaces)


_TOLD = ("class", "arch", "position", "dentition", "matrix", "band")


@cache
def kinds_of_cavity(teeth: tuple[int, ...] = ONE_OF_EACH) -> tuple[Entry, ...]:
    """Return one cavity for every combination of tooth facts that procedures tell apart."""
    found: dict[tuple[object, ...], Entry] = {}
    for entry in _cavities(teeth):
        if entry["isolation"] != "dam":
            continue
        case = case_of(CaseFile.model_validate(entry), "iso")
        if case.cavity is None or case.matrix is None:
            continue
        facts = tooth_facts(case.cavity, case.matrix)
        told = tuple(facts[key] for key in _TOLD)
        found.setdefault((entry["material"], *told), entry)
    return tuple(found.values())


@cache
def _kinds(teeth: tuple[int, ...], *told: str) -> tuple[Entry, ...]:
    """Return one cavity for each combination of material and the tooth facts `told`.

    Where the class is not told it is one that some visit fills, so that there is a plan to judge.
    """
    filled: dict[tuple[object, ...], Entry] = {}
    others: dict[tuple[object, ...], Entry] = {}
    for entry in kinds_of_cavity(teeth):
        case = case_of(CaseFile.model_validate(entry), "iso")
        assert case.cavity is not None
        assert case.matrix is not None
        facts = tooth_facts(case.cavity, case.matrix)
        usual = "V" if entry["material"] == "resin-glass-ionomer" else "I"
        found = filled if facts["class"] == (usual,) else others
        found.setdefault((entry["material"], *(facts[key] for key in told)), entry)
    return tuple((others | filled).values())


def _crossed(cavities: Iterable[Entry], axes: Mapping[str, Iterable[Any]]) -> Iterator[Entry]:
    for cavity, *values in product(cavities, *axes.values()):
        yield {**cavity, **dict(zip(axes, values, strict=True))}


def _one(flag: str | None) -> list[str]:
    return [] if flag is None else [flag]


ANY_FLAG = tuple(_one(flag) for flag in (None, *FLAGS))


def choices(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Combination]:
    """Yield each kind of cavity with every choice of the clinician that means something there."""
    for cavity in kinds_of_cavity(teeth):
        bonded = cavity["material"] == "composite"
        axes = {
            "isolation": ISOLATIONS,
            **_linings(cavity["material"]),
            "adhesive": ADHESIVES[1:] if bonded else (None,),
            "bulk-fill": (False, True) if bonded else (False,),
            "anaesthetic": (None, "lidocaine-epinephrine-100k"),
        }
        yield from ((entry, ()) for entry in _crossed([cavity], axes))


def _linings(material: str) -> dict[str, tuple[Any, ...]]:
    lined = material != "sealant"
    return {
        "liner": LINERS if lined else (None,),
        "remaining-dentine-mm": (None, 0.4) if lined else (None,),
        "sealer": SEALERS if material == "amalgam" else (None, "varnish"),
    }


def later(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Combination]:
    """Yield each kind of cavity, filled at an earlier visit, with everything said of it."""
    for cavity in kinds_of_cavity(teeth):
        axes = {"visit": VISITS[1:], "isolation": ISOLATIONS, **_linings(cavity["material"])}
        yield from ((entry, ()) for entry in _crossed([cavity], axes))


def conditions(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Combination]:
    """Yield a cavity of each class and matrix with every patient; what was in the tooth before;
    and every liner, sealer and kind of base."""
    axes: dict[str, tuple[Any, ...]] = {
        "visit": VISITS, "isolation": ISOLATIONS, "flags": ANY_FLAG,
    }  # fmt: skip
    yield from ((entry, ()) for entry in _crossed(_kinds(teeth, "class", "matrix"), axes))
    for cavity in _kinds(teeth):
        axes = {"visit": VISITS, "isolation": ISOLATIONS, "sealer": SEALERS, "replaces": REPLACES}
        yield from ((entry, ()) for entry in _crossed([cavity], axes))
        axes = {"visit": VISITS, "liner": LINERS, "sealer": SEALERS, "flags": ANY_FLAG}
        for entry, base in product(_crossed([cavity], axes), _BASES):
            yield entry, (("liner-base.kind", base),)


def people(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Combination]:
    """Yield a cavity of each class, arch and matrix with every age and anaesthetic; and every
    anaesthetic with every age and patient."""
    axes: dict[str, tuple[Any, ...]] = {
        "visit": VISITS, "age-years": AGES, "anaesthetic": NUMBING, "topical": (True, False),
    }  # fmt: skip
    for entry in _crossed(_kinds(teeth, "class", "arch", "matrix"), axes):
        yield entry, ()
    axes = {"visit": VISITS, "age-years": AGES, "anaesthetic": NUMBING, "flags": ANY_FLAG,
            "weight-kg": (None, 70)}  # fmt: skip
    for entry in _crossed(_kinds(teeth), axes):
        yield entry, ()


def layered(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Combination]:
    """Yield composite of each class in every depth and every way to layer it."""
    axes: dict[str, tuple[Any, ...]] = {
        "visit": VISITS, "isolation": ISOLATIONS, "bulk-fill": (False, True),
        "depth-mm": (None, 0.5, 1, 2, 2.5, 4, 5, 6, 8, 15), "size": (None, "ordinary", "large"),
        "remaining-dentine-mm": (None, 0, 0.4, 2),
    }  # fmt: skip
    composites = [each for each in _kinds(teeth, "class") if each["material"] == "composite"]
    for entry in _crossed(composites, axes):
        yield entry, ()


def law(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Combination]:
    """Yield amalgam, in either dentition, in every place, on every day, for every patient."""
    axes: dict[str, tuple[Any, ...]] = {
        "date": DAYS, "age-years": AGES, "flags": ANY_FLAG,
        "strictly-necessary": (None, True, False),
    }  # fmt: skip
    amalgams = [each for each in _kinds(teeth, "dentition") if each["material"] == "amalgam"]
    places: list[Office] = [(("jurisdiction", place),) for place in JURISDICTIONS]
    places.append((("jurisdiction", "eu"), ("amalgam_derogation", True)))
    yield from product(_crossed(amalgams, axes), places)


def mouths(teeth: tuple[int, ...] = TEETH) -> Iterator[Combination]:
    """Yield every tooth, at the gum and elsewhere, on each isolation, at every age that changes
    which teeth stand there, with the teeth behind, before or across from it missing."""
    for tooth in teeth:
        edge = "O" if Tooth(tooth).posterior else "I"
        places: tuple[Entry, ...] = ({"surfaces": edge}, {"surfaces": "B", "cervical": True})
        beside = [Tooth(tooth).neighbour(mesial=mesial) for mesial in (False, True)]
        gaps = [[str(each.iso)] for each in beside if each is not None]
        gaps += [[], [each for gap in gaps for each in gap]]
        for place, isolation, age, gap in product(places, ISOLATIONS, DAM_AGES, gaps):
            yield {
                "tooth": str(tooth), **place, "material": "composite", "isolation": isolation,
                **_USUAL, "age-years": age, "missing": gap,
            }, ()  # fmt: skip


def drawers(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Combination]:
    """Yield a cavity of each class and matrix with every kind of product an office may have; and
    every place and hand."""
    axes: dict[str, tuple[Any, ...]] = {
        "visit": VISITS, "isolation": ISOLATIONS, "flags": ([], ["latex"]),
    }  # fmt: skip
    kinds = [
        tuple((name, value) for value in values)
        for name, values in (
            ("amalgam.kind", Alloy),
            ("amalgam.supply", (None, *CASE_FACTS["supply"])),
            ("cleaning-paste.kind", CASE_FACTS["paste"]),
            ("dam-lubricant.kind", CASE_FACTS["lubricant"]),
            ("drying-agent.kind", (None, *CASE_FACTS["drying"])),
        )
    ]
    yield from product(_crossed(_kinds(teeth, "class", "matrix"), axes), product(*kinds))
    axes = {"visit": VISITS, "flags": ANY_FLAG}
    bottles = [("adhesive.kind", kind) for kind in CASE_FACTS["bottles"]]
    coats = [("surface-coat.kind", kind) for kind in (None, *CASE_FACTS["coat"])]
    yield from product(_crossed(_kinds(teeth, "class", "matrix"), axes), product(bottles, coats))
    hands: list[Office] = [
        (("jurisdiction", place), ("clinician_hand", hand))
        for place, hand in product(JURISDICTIONS, ("right", "left"))
    ]
    yield from product(_crossed(_kinds(teeth), axes), hands)


def office_of(practice: Practice, office: Office) -> Practice:
    """Return the practice with what `office` says differs."""
    for name, value in office:
        role, _, field = name.partition(".")
        if not field:
            practice = replace(practice, **{name: value})  # type: ignore[arg-type]
            continue
        kept = [each for each in practice.materials if each.role != role]
        held = [each for each in practice.materials if each.role == role] or [_new(role)]
        changed = [] if field == "kind" and value is None else [
            replace(each, **{field: value}) for each in held  # type: ignore[arg-type]
        ]  # fmt: skip
        practice = replace(practice, materials=(*kept, *changed))
    return practice


def _new(role: str) -> Material:
    return Material(role, f"Some {role}", "", {}, {}, "", {})
