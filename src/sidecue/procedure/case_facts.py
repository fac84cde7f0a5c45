"""Case facts: the closed list of words that `when:` and `unless:` may match.

Each key holds a tuple of words, empty where it does not apply. A key or value outside this list
is a fault of the file that uses it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sidecue.clinical.anaesthetic import SOLUTIONS, Drug
from sidecue.clinical.cavity import Cavity
from sidecue.clinical.curing import CONVENTIONAL_MM
from sidecue.clinical.law import AGE_PROTECTED
from sidecue.clinical.liners import DEEP_MM
from sidecue.clinical.matrix import MatrixPlan
from sidecue.clinical.surfaces import Surface
from sidecue.procedure.case import Case
from sidecue.procedure.practice import Practice

LATEX_FREE_SHEET = "latex-free-sheet"  # the instrument of that id

_SURFACES = tuple(surface.value for surface in Surface)

CASE_FACTS: Mapping[str, tuple[str, ...]] = {
    "material": (
        "composite", "amalgam", "glass-ionomer", "resin-glass-ionomer", "interim", "sealant"),
    "visit": ("placing", "polishing"),  # polishing: nothing fresh is placed
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
    "supply": ("capsule", "sachet", "bulk"),  # how that amalgam is bought
    "base": (  # kind of the practice's liner-base product, where the case has one
        "resin-modified-glass-ionomer", "glass-ionomer", "zinc-phosphate", "zinc-oxide-eugenol"),
    "bottles": ("one-bottle", "two-bottle"),  # of the practice's adhesive
    "coat": ("light-cured", "self-drying"),  # of the practice's coat for glass ionomer
    "paste": ("plain", "oily", "fluoride"),  # the practice's cleaning paste
    "lubricant": ("water-soluble", "petroleum"),  # the practice's dam lubricant
    "sheet": ("latex", "non-latex"),  # the dam sheet of this case
    "drying": ("air", "pellet", "alcohol"),  # how the practice dries dentine
    "replaces": ("nothing", "eugenol-temporary", "temporary", "filling"),
    "depth": ("ordinary", "deep"),  # deep: remaining dentine of 0.5 mm or less
    "size": ("ordinary", "large"),  # large: more than two layers of composite at the gum
    "anaesthesia": ("yes", "no"),
    "anaesthetic": ("none", *(drug.value for drug in Drug)),
    "vasoconstrictor": ("yes", "no"),  # known once the case names a solution, not only a drug
    "topical": ("yes", "no"),
    "age-group": ("child", "adult"),  # child: under 15; an unknown age counts as adult
    "clinician-hand": ("right", "left"),
    "jurisdiction": ("eu", "us", "northern-ireland", "other"),
    "flags": (
        "latex", "eugenol", "resin", "metal", "sulfite", "pregnancy", "breastfeeding", "kidney",
        "neurological", "heart", "asthma", "mouth-breather", "bleached",
        "methaemoglobinaemia"),
}  # fmt: skip

#: Case fact: the role whose product's kind it tells.
PRODUCT_KINDS: Mapping[str, str] = {
    "alloy": "amalgam",
    "base": "liner-base",
    "bottles": "adhesive",
    "coat": "surface-coat",
    "paste": "cleaning-paste",
    "lubricant": "dam-lubricant",
    "drying": "drying-agent",
}
#: Facts that a case or a practice may leave open, whatever else is known.
MAY_BE_EMPTY = frozenset({*PRODUCT_KINDS, "supply", "vasoconstrictor", "sheet"})
_LINERS_WITH_BASE = frozenset({"glass-ionomer", "calcium-hydroxide-covered"})


def case_facts(case: Case, practice: Practice) -> dict[str, tuple[str, ...]]:
    """Return the words `when:` matches against for this case in this practice."""
    entry = case.entry
    numbed = case.drug is not None
    remaining, age = entry.remaining_dentine_mm, entry.age_years
    facts: dict[str, tuple[str, ...]] = {
        "material": (entry.material,),
        "visit": (entry.visit,),
        "isolation": (entry.isolation,),
        "adhesive": (entry.adhesive or practice.adhesive,),
        "liner": (entry.liner or "none",),
        "sealer": (entry.sealer or "none",),
        "fill": ("bulk" if entry.bulk_fill else "incremental",),
        "depth": ("deep" if remaining is not None and remaining <= DEEP_MM else "ordinary",),
        "size": (entry.size or ("large" if _deep(entry.depth_mm) else "ordinary"),),
        "anaesthesia": ("yes" if numbed else "no",),
        "anaesthetic": ("none" if case.drug is None else case.drug.value,),
        "topical": ("yes" if numbed and entry.topical else "no",),
        "age-group": ("child" if age is not None and age < AGE_PROTECTED else "adult",),
        "clinician-hand": (practice.clinician_hand,),
        "jurisdiction": (practice.jurisdiction,),
        "flags": tuple(entry.flags),
        "vasoconstrictor": _vasoconstrictor(entry.anaesthetic),
        "replaces": (entry.replaces or "nothing",),
        "sheet": (_sheet(entry.flags, practice),) if entry.isolation == "dam" else (),
    }
    if case.cavity is not None and case.matrix is not None:
        facts |= tooth_facts(case.cavity, case.matrix)
        facts["side"] = (case.cavity.tooth.side,)
    facts |= _product_facts(practice, facts)
    if entry.liner not in _LINERS_WITH_BASE:
        facts["base"] = ()
    return {key: facts.get(key, ()) for key in CASE_FACTS}


def _product_facts(
    practice: Practice, facts: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    found: dict[str, tuple[str, ...]] = {}
    for key, role in PRODUCT_KINDS.items():
        product = practice.material(role, facts)
        if product is not None and product.kind in CASE_FACTS[key]:
            found[key] = (product.kind,)
    amalgam = practice.material("amalgam", facts)
    if amalgam is not None and amalgam.supply is not None:
        found["supply"] = (amalgam.supply,)
    return found


def _deep(depth_mm: float | None) -> bool:
    """Return whether two layers of ordinary composite would be too thick to cure."""
    return depth_mm is not None and depth_mm > 2 * CONVENTIONAL_MM


def _vasoconstrictor(anaesthetic: str | None) -> tuple[str, ...]:
    solution = SOLUTIONS.get(anaesthetic or "")
    if solution is None:
        return ()
    return ("no" if solution.vasoconstrictor is None else "yes",)


def _sheet(flags: Iterable[str], practice: Practice) -> str:
    favourite = practice.instead.get("dam-sheet", "dam-sheet")
    return "non-latex" if "latex" in flags or favourite == LATEX_FREE_SHEET else "latex"


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
