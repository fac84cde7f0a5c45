"""Rubber dam: clamp, anchor, teeth to isolate, holes; and what forbids a dam.

Sources: allendodontics.blogspot.com (clamps, ligature), a continuing-education article of August
2024 (anchor, teeth), dentistryiq.com 2003 (hole spacing), CDC 2003 for latex (from memory); clamp
numbers and hole sizes partly from memory. Clamp numbers are generic trade numbers.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum

from sidecue.clinical import sources
from sidecue.clinical.cavity import CavityClass
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.eruption import standing
from sidecue.clinical.finding import Finding, block, query, warn
from sidecue.clinical.quantity import Number
from sidecue.clinical.teeth import Kind, Tooth


class ClampFamily(StrEnum):
    """What a clamp is made for."""

    MOLAR = "molar"
    PREMOLAR = "premolar"
    CERVICAL = "cervical"  # anterior teeth, and gum retraction for class V


CLAMP_NUMBERS: dict[ClampFamily, tuple[str, ...]] = {
    ClampFamily.MOLAR: (
        "7", "8", "8A", "14", "14A", "56", "200", "201", "202", "203", "204", "205"),
    ClampFamily.PREMOLAR: ("00", "0", "1", "2", "2A", "206", "207", "208", "209"),
    ClampFamily.CERVICAL: ("9", "210", "211", "212"),
}  # fmt: skip

LIGATURE_CM = (45, 50)  # floss on every clamp, through both holes
HOLE_SPACING_MM = 6  # a quarter of an inch at least
FEWEST_POSTERIOR = 3  # teeth through the dam for a posterior filling


@dataclass(frozen=True, slots=True)
class DamPlan:
    """The dam for one tooth: where the clamp goes, which teeth come through, which holes."""

    tooth: Tooth
    anchor: Tooth
    family: ClampFamily
    isolated: tuple[Tooth, ...]  # along the arch, from the anchor
    holes: tuple[int, ...]  # hole sizes 1 to 5, beside `isolated`


def dam_plan(
    tooth: Tooth,
    *,
    missing: Collection[Tooth] = (),
    cavity_class: CavityClass | None = None,
    age_years: Number | None = None,
) -> DamPlan:
    """Return the usual dam for a restoration on `tooth`, leaving out `missing` teeth.

    At a known age the neighbours are those that usually stand there (see `eruption`). For class V
    the clamp sits on the treated tooth itself, to hold the gum back: a retracting clamp in front
    of the molars, an ordinary molar clamp on a molar, where no retracting clamp fits (common
    practice, no source; 212-type clamp: assisting page on class V).
    """
    if tooth in missing:
        raise ClinicalError(
            f"tooth {tooth.iso}", "it is in the list of missing teeth", "check the tooth"
        )
    anchor = anchor_tooth(tooth, missing=missing, age_years=age_years)
    isolated = teeth_to_isolate(tooth, missing=missing, age_years=age_years)
    if cavity_class is CavityClass.FIVE:
        anchor = tooth
    family = ClampFamily.MOLAR if anchor.kind is Kind.MOLAR else ClampFamily.PREMOLAR
    if not anchor.posterior or (cavity_class is CavityClass.FIVE and anchor.kind is not Kind.MOLAR):
        family = ClampFamily.CERVICAL
    holes = tuple(5 if each == anchor else hole_size(each) for each in isolated)
    return DamPlan(tooth, anchor, family, isolated, holes)


def anchor_tooth(
    tooth: Tooth, *, missing: Collection[Tooth] = (), age_years: Number | None = None
) -> Tooth:
    """Return the tooth that carries the clamp.

    Posterior: one distal to the treated tooth (47 for 46), or the treated tooth itself when
    nothing stands behind it; a third molar is not counted on. Anterior: the first premolar (or
    primary first molar) of that side, else the next present tooth mesial to it.
    """
    if tooth.posterior:
        last = 5 if tooth.primary else 7
        behind = (tooth.position + 1,) if tooth.position < last else ()
        return next(_present(tooth, behind, tooth.quadrant, missing, age_years), tooth)
    forward = range(4, tooth.position, -1)
    return next(_present(tooth, forward, tooth.quadrant, missing, age_years), tooth)


def teeth_to_isolate(
    tooth: Tooth, *, missing: Collection[Tooth] = (), age_years: Number | None = None
) -> tuple[Tooth, ...]:
    """Return the teeth to bring through the dam, along the arch from the anchor.

    Posterior: from the anchor to the opposite lateral incisor, or the treated tooth's own place
    further back. Anterior: first premolar to first premolar (primary: first molars).
    """
    anchor = anchor_tooth(tooth, missing=missing, age_years=age_years)
    start, far = (anchor.position, 2) if tooth.posterior else (4, 4)
    near = _present(tooth, range(start, 0, -1), tooth.quadrant, missing, age_years)
    across = _present(tooth, range(1, far + 1), _across(tooth.quadrant), missing, age_years)
    return (*near, *across)


def _present(
    treated: Tooth,
    positions: Iterable[int],
    quadrant: int,
    missing: Collection[Tooth],
    age_years: Number | None,
) -> Iterator[Tooth]:
    """Yield the teeth that stand at `positions` of a quadrant; the treated tooth always does."""
    for position in positions:
        place = Tooth(10 * quadrant + position)
        found = place if place == treated else standing(place, age_years)
        if found is not None and found not in missing:
            yield found


def _across(quadrant: int) -> int:
    """Return the ISO quadrant across the midline in the same arch and dentition."""
    return {1: 2, 2: 1, 3: 4, 4: 3, 5: 6, 6: 5, 7: 8, 8: 7}[quadrant]


def hole_size(tooth: Tooth) -> int:
    """Return the punch hole for a tooth without the clamp, 1 to 4 (the anchor takes 5)."""
    if tooth.kind is Kind.INCISOR:
        return 2 if tooth.arch == "upper" else 1
    return 4 if tooth.kind is Kind.MOLAR else 3


def clamp_family(number: str) -> ClampFamily | None:
    """Return the family of a clamp number, or None when it is not a number of these tables.

    A leading W (wingless) is ignored.
    """
    plain = number.strip().upper().removeprefix("W")
    for family, numbers in CLAMP_NUMBERS.items():
        if plain in numbers:
            return family
    return None


def check_clamp(number: str, tooth: Tooth, *, class_five: bool = False) -> tuple[Finding, ...]:
    """Ask about a clamp whose family does not fit the tooth it is meant for.

    A cervical clamp is expected on an anterior tooth, and on a premolar in class V work.
    """
    family = clamp_family(number)
    if family is None:
        return (
            query(
                f"clamp {number} is not a number of these tables: is it right for {tooth.iso}?",
                sources.DAM_CLAMP_LIST,
            ),
        )
    fitting = {
        Kind.MOLAR: {ClampFamily.MOLAR},
        Kind.PREMOLAR: {ClampFamily.PREMOLAR},
        Kind.CANINE: {ClampFamily.CERVICAL, ClampFamily.PREMOLAR},
        Kind.INCISOR: {ClampFamily.CERVICAL, ClampFamily.PREMOLAR},
    }[tooth.kind]
    if class_five and tooth.kind is Kind.PREMOLAR:
        fitting = fitting | {ClampFamily.CERVICAL}
    if family in fitting:
        return ()
    return (
        query(
            f"clamp {number} is a {family.value} clamp: is it meant for {tooth.name}?",
            sources.DAM_CLAMP_LIST,
        ),
    )


def check_ligature(*, tied: bool) -> tuple[Finding, ...]:
    """Refuse a clamp that goes to the mouth without floss through both holes."""
    if tied:
        return ()
    return (
        block(
            "no clamp enters the mouth without floss: 45 to 50 cm through both holes",
            sources.DAM_CLAMPS,
        ),
    )


def check_sheet(sheet: str, *, latex_allergy: bool) -> tuple[Finding, ...]:
    """Refuse a `latex` sheet for a patient with latex allergy; `non-latex` is accepted."""
    if sheet not in {"latex", "non-latex"}:
        raise ClinicalError(f"dam sheet {sheet!r}", "not a kind of sheet", "latex or non-latex")
    if not latex_allergy or sheet == "non-latex":
        return ()
    return (
        block(
            "latex allergy: non-latex dam, gloves and stoppers; be ready for anaphylaxis",
            sources.CDC_2003,
        ),
    )


def breathing_findings(*, mouth_breather: bool, asthma: bool) -> tuple[Finding, ...]:
    """Warn where a dam over the whole mouth may stop the patient breathing."""
    found = []
    if mouth_breather:
        found.append(
            block("cannot breathe through the nose: do not place the dam", sources.DAM_BREATHING)
        )
    if asthma:
        found.append(
            warn(
                "asthma: ask how severe; if severe, do not place the dam fully",
                sources.DAM_BREATHING,
            )
        )
    return tuple(found)


def referral_needed(*, whole_object_found: bool) -> bool:
    """Tell whether a lost object means referral at once with an escort, for radiographs.

    How the patient feels plays no part: an object that was not found whole is looked for in chest
    and abdomen (Gen Dent 2008;56:691, PMID 19014028).
    """
    return not whole_object_found
