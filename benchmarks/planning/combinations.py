"""All combinations of what a case may say, as entries of a case file.

A full product of everything is beyond counting, so what can act on the same thing is combined
whole, and what cannot is not: cavities (every tooth, every surface, every matrix, material and
isolation), choices (one cavity of every kind the procedures tell apart, with every choice of the
clinician), and patients (one cavity for every visit, with every flag and pair of flags, age,
anaesthetic, day and law).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from functools import cache
from itertools import combinations, product
from typing import Any, get_args

from sidecue.clinical.amalgam import Alloy
from sidecue.clinical.anaesthetic import SOLUTIONS
from sidecue.clinical.matrix import MatrixKind
from sidecue.clinical.teeth import Tooth
from sidecue.procedure.case import CaseFault, case_of
from sidecue.procedure.case_facts import tooth_facts
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import CaseFile

Entry = dict[str, Any]

TEETH = tuple(
    10 * quadrant + position
    for quadrant in range(1, 9)
    for position in range(1, 9 if quadrant < 5 else 6)
)
#: One tooth of every kind, above and below: what procedures tell apart.
ONE_OF_EACH = (11, 13, 14, 16, 41, 43, 44, 46, 51, 53, 54, 81, 83, 84)
SURFACES = tuple("".join(some) for size in range(1, 6) for some in combinations("MODIBLP", size))
MATERIALS = ("composite", "amalgam", "glass-ionomer", "resin-glass-ionomer", "interim", "sealant")
ISOLATIONS = ("dam", "rolls")
MATRICES = (None, *(kind.value for kind in MatrixKind))
FLAGS: tuple[str, ...] = get_args(get_args(CaseFile.model_fields["flags"].annotation)[0])
LINERS = (None, *get_args(get_args(CaseFile.model_fields["liner"].annotation)[0]))
SEALERS = (None, *get_args(get_args(CaseFile.model_fields["sealer"].annotation)[0]))
ADHESIVES = (None, *get_args(get_args(CaseFile.model_fields["adhesive"].annotation)[0]))
REPLACES = (None, *get_args(get_args(CaseFile.model_fields["replaces"].annotation)[0]))
DAYS = ("2017-12-31", "2019-01-01", "2024-12-31", "2025-01-01", "2026-06-30", "2026-07-01", None)
AGES = (None, 3, 14, 15, 40)
JURISDICTIONS = ("eu", "us", "northern-ireland", "other")
NUMBING = (None, "none", "lidocaine", *SOLUTIONS)
_USUAL: Entry = {"depth-mm": 3, "date": "2024-05-02", "strictly-necessary": True}


def valid(entry: Entry) -> bool:
    """Return whether such a case can be: its tooth has these surfaces, and the matrix fits."""
    try:
        case_of(CaseFile.model_validate(entry), "iso")
    except CaseFault:
        return False
    return True


def cavities(teeth: Iterable[int] = TEETH) -> Iterator[Entry]:
    """Yield every one of `teeth` with all its valid surfaces, places, matrices, materials and
    isolations."""
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


@cache
def kinds_of_cavity(teeth: tuple[int, ...] = ONE_OF_EACH) -> tuple[Entry, ...]:
    """Return one cavity for every combination of tooth facts that procedures tell apart."""
    found: dict[tuple[object, ...], Entry] = {}
    for entry in cavities(teeth):
        if entry["isolation"] != "dam":
            continue
        case = case_of(CaseFile.model_validate(entry), "iso")
        if case.cavity is None or case.matrix is None:
            continue
        facts = tooth_facts(case.cavity, case.matrix)
        told = (facts["class"], facts["arch"], facts["position"], facts["matrix"], facts["band"])
        found.setdefault((entry["material"], *told), entry)
    return tuple(found.values())


def choices(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Entry]:
    """Yield each kind of cavity with every choice of the clinician that means something there."""
    for cavity in kinds_of_cavity(teeth):
        material = cavity["material"]
        bonded = material == "composite"
        axes: list[tuple[str, tuple[Any, ...]]] = [
            ("isolation", ISOLATIONS),
            ("liner", LINERS if material != "sealant" else (None,)),
            ("remaining-dentine-mm", (None, 0.4, 1) if material != "sealant" else (None,)),
            ("sealer", SEALERS if material == "amalgam" else (None, "varnish")),
            ("adhesive", ADHESIVES if bonded else (None,)),
            ("bulk-fill", (False, True) if bonded else (False,)),
            ("anaesthetic", (None, "lidocaine-epinephrine-100k")),
        ]
        names = [name for name, _ in axes]
        for values in product(*(values for _, values in axes)):
            yield {**cavity, **dict(zip(names, values, strict=True))}


def patients(teeth: tuple[int, ...] = ONE_OF_EACH) -> Iterator[Entry]:
    """Yield one cavity of each class and material with every patient, day and anaesthetic."""
    seen: set[tuple[str, str]] = set()
    groups = [(), *((flag,) for flag in FLAGS), *combinations(FLAGS, 2)]
    for cavity in kinds_of_cavity(teeth):
        case = case_of(CaseFile.model_validate(cavity), "iso")
        assert case.cavity is not None
        kind = (cavity["material"], case.cavity.cavity_class.value)
        if kind in seen:
            continue
        seen.add(kind)
        for flags in groups:
            yield {**cavity, "flags": list(flags), "anaesthetic": "articaine-epinephrine-200k"}
        for age, numbing, topical in product(AGES, NUMBING, (True, False)):
            yield {**cavity, "age-years": age, "anaesthetic": numbing, "topical": topical}
        for flag, isolation, before in product((None, *FLAGS), ISOLATIONS, REPLACES):
            flags = [] if flag is None else [flag]
            yield {**cavity, "flags": flags, "isolation": isolation, "replaces": before}
        if cavity["material"] == "amalgam":
            for day, age, necessary, flag in product(DAYS, AGES, (None, True, False), FLAGS):
                yield {**cavity, "date": day, "age-years": age, "flags": [flag],
                       "strictly-necessary": necessary}  # fmt: skip


def offices(practice: Practice) -> Iterator[Practice]:
    """Yield the practice in every jurisdiction, with either hand and either alloy."""
    for law, hand, alloy in product(JURISDICTIONS, ("right", "left"), Alloy):
        materials = tuple(
            replace(each, kind=alloy.value) if each.role == "amalgam" else each
            for each in practice.materials
        )
        yield replace(practice, jurisdiction=law, clinician_hand=hand, materials=materials)
