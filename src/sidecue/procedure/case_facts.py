"""Case facts: the closed list of words that `when:` and `unless:` may match.

Each key holds a tuple of words, empty where it does not apply. A key or value outside this list
is a fault of the file that uses it.
"""

from __future__ import annotations

from collections.abc import Mapping

from sidecue.clinical.amalgam import Alloy
from sidecue.clinical.anaesthetic import Drug
from sidecue.clinical.cavity import Cavity
from sidecue.clinical.law import AGE_PROTECTED
from sidecue.clinical.liners import DEEP_MM
from sidecue.clinical.matrix import MatrixPlan
from sidecue.clinical.surfaces import Surface
from sidecue.procedure.case import Case
from sidecue.procedure.practice import Practice

_SURFACES = tuple(surface.value for surface in Surface)

CASE_FACTS: Mapping[str, tuple[str, ...]] = {
    "material": (
        "composite", "amalgam", "glass-ionomer", "resin-glass-ionomer", "interim", "sealant"),
    "class": ("I", "II", "III", "IV", "V", "VI"),
    "isolation": ("dam", "rolls"),
    "adhesive": ("total-etch", "selective-etch", "self-etch"),  # how this office bonds
    "liner": ("none", "calcium-hydroxide", "calcium-hydroxide-covered", "glass-ionomer"),
    "sealer": ("none", "varnish", "resin-sealer"),
    "matrix": ("none", "band", "sectional", "clear-strip", "cervical"),
    "band": ("straight", "contoured", "extension"),
    "arch": ("upper", "lower"),
    "side": ("right", "left"),  # the patient's
    "position": ("incisor", "canine", "premolar", "molar"),
    "dentition": ("permanent", "primary"),
    "surfaces": _SURFACES,
    "walls-missing": _SURFACES,
    "fill": ("incremental", "bulk"),
    "alloy": ("spherical", "admixed"),  # of the practice's amalgam
    "depth": ("ordinary", "deep"),  # deep: remaining dentine of 0.5 mm or less
    "anaesthesia": ("yes", "no"),
    "anaesthetic": ("none", *(drug.value for drug in Drug)),
    "topical": ("yes", "no"),
    "age-group": ("child", "adult"),  # child: under 15; an unknown age counts as adult
    "clinician-hand": ("right", "left"),
    "jurisdiction": ("eu", "us", "northern-ireland", "other"),
    "flags": (
        "latex", "eugenol", "resin", "metal", "sulfite", "pregnancy", "breastfeeding", "kidney",
        "neurological", "heart", "asthma", "mouth-breather", "bleached"),
}  # fmt: skip


def case_facts(case: Case, practice: Practice) -> dict[str, tuple[str, ...]]:
    """Return the words `when:` matches against for this case in this practice."""
    entry = case.entry
    numbed = case.drug is not None
    remaining, age = entry.remaining_dentine_mm, entry.age_years
    facts: dict[str, tuple[str, ...]] = {
        "material": (entry.material,),
        "isolation": (entry.isolation,),
        "adhesive": (entry.adhesive or practice.adhesive,),
        "liner": (entry.liner or "none",),
        "sealer": (entry.sealer or "none",),
        "fill": ("bulk" if entry.bulk_fill else "incremental",),
        "depth": ("deep" if remaining is not None and remaining <= DEEP_MM else "ordinary",),
        "anaesthesia": ("yes" if numbed else "no",),
        "anaesthetic": ("none" if case.drug is None else case.drug.value,),
        "topical": ("yes" if numbed and entry.topical else "no",),
        "age-group": ("child" if age is not None and age < AGE_PROTECTED else "adult",),
        "clinician-hand": (practice.clinician_hand,),
        "jurisdiction": (practice.jurisdiction,),
        "flags": tuple(entry.flags),
    }
    if case.cavity is not None and case.matrix is not None:
        facts |= tooth_facts(case.cavity, case.matrix)
        facts["side"] = (case.cavity.tooth.side,)
    amalgam = practice.material("amalgam", facts)
    known = {alloy.value for alloy in Alloy}
    facts["alloy"] = (amalgam.kind,) if amalgam is not None and amalgam.kind in known else ()
    return {key: facts.get(key, ()) for key in CASE_FACTS}


def tooth_facts(cavity: Cavity, matrix: MatrixPlan) -> dict[str, tuple[str, ...]]:
    """Return the words that follow from tooth, surfaces and matrix together."""
    tooth, band = cavity.tooth, matrix.band
    return {
        "class": (cavity.cavity_class.value,),
        "arch": (tooth.arch,),
        "position": (tooth.kind.value,),
        "dentition": ("primary" if tooth.primary else "permanent",),
        "surfaces": tuple(surface.value for surface in cavity.surfaces),
        "walls-missing": tuple(surface.value for surface in cavity.missing_walls),
        "matrix": (matrix.kind.value,),
        "band": () if band is None else (band.value,),
    }
