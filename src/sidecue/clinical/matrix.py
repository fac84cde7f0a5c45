"""Matrix and wedge: what stands in for a missing wall, and which way round it goes.

Sources: knowt.com teaching cards and an assisting course page (loop, slots, side, guide),
mydentalkey.com and brainscape.com cards (height, wedge), wiki.dentalpanda.net (sectional matrix).
The pairing of guide slots, band thickness and the lingual exception come from memory; straight
bands for premolars and contoured bands for molars are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from sidecue.clinical import sources
from sidecue.clinical.cavity import Cavity, CavityClass
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, block, note, query, warn
from sidecue.clinical.materials import Material
from sidecue.clinical.surfaces import Surface
from sidecue.clinical.teeth import Kind, Tooth


class MatrixKind(StrEnum):
    """What replaces the missing wall while filling."""

    BAND = "band"  # circumferential, in a retainer
    SECTIONAL = "sectional"  # convex section with a separating ring
    CLEAR_STRIP = "clear-strip"
    CERVICAL = "cervical"
    NONE = "none"


class BandKind(StrEnum):
    """The form of a circumferential band."""

    STRAIGHT = "straight"
    CONTOURED = "contoured"
    EXTENSION = "extension"  # wider at the gingiva, for a deep box


class GuideSlot(StrEnum):
    """The side guide of the retainer head, by the quadrants that share it.

    Which of the two is cut left and which right is read on the retainer in hand.
    """

    UPPER_RIGHT_LOWER_LEFT = "upper-right-lower-left"
    UPPER_LEFT_LOWER_RIGHT = "upper-left-lower-right"


# Millimetres, (least, most).
ABOVE_RIDGE_MM = (1.0, 2.0)  # band over the planned marginal ridge: brainscape.com cards
PAST_MARGIN_MM = (0.5, 1.0)  # band below the gingival margin (from memory)
BAND_THICKNESS_MM = (0.038, 0.05)  # from memory
SECTION_THICKNESS_MM = (0.025, 0.04)  # from memory

WIDER_OPENING = "occlusal"
SLOTS_FACE = "gingival"


@dataclass(frozen=True, slots=True)
class MatrixPlan:
    """The matrix for one cavity. Empty fields (None, 0) mean the part is not used."""

    kind: MatrixKind
    band: BandKind | None
    guide_slot: GuideSlot | None
    retainer_side: str | None  # "buccal" or "lingual"
    wedges: int
    wedge_side: str | None  # "lingual", or "palatal" on upper teeth
    findings: tuple[Finding, ...]


def matrix_for(
    cavity: Cavity,
    material: Material,
    *,
    deep_box: bool = False,
    preferred: MatrixKind | None = None,
) -> MatrixPlan:
    """Return the matrix plan of `cavity` filled with `material`.

    `preferred` is the clinician's choice between the kinds that can work here. Raises
    ClinicalError when the preferred kind cannot hold this filling.
    """
    kind = _kind(cavity, material, preferred)
    wedges = len(cavity.proximal) if kind not in {MatrixKind.NONE, MatrixKind.CERVICAL} else 0
    is_band = kind is MatrixKind.BAND
    return MatrixPlan(
        kind=kind,
        band=band_kind(cavity.tooth, deep_box=deep_box) if is_band else None,
        guide_slot=guide_slot(cavity.tooth) if is_band else None,
        retainer_side=retainer_side(cavity) if is_band else None,
        wedges=wedges,
        wedge_side=wedge_side(cavity.tooth) if wedges else None,
        findings=_findings(cavity, material, kind, deep_box),
    )


def suitable_kinds(cavity: Cavity, material: Material) -> tuple[MatrixKind, ...]:
    """Return the kinds that can hold this filling, the usual one first."""
    if material is Material.SEALANT or cavity.cavity_class in {CavityClass.ONE, CavityClass.SIX}:
        return (MatrixKind.NONE,)
    if cavity.cavity_class is CavityClass.FIVE:
        if material in {Material.GLASS_IONOMER, Material.RESIN_GLASS_IONOMER}:
            return (MatrixKind.CERVICAL, MatrixKind.NONE)
        return (MatrixKind.NONE, MatrixKind.CERVICAL)
    if cavity.cavity_class in {CavityClass.THREE, CavityClass.FOUR}:
        return (MatrixKind.CLEAR_STRIP,)
    if len(cavity.missing_walls) > len(cavity.proximal):  # a cusp wall is lost
        return (MatrixKind.BAND,)
    if material is Material.COMPOSITE:
        return (MatrixKind.SECTIONAL, MatrixKind.BAND)
    if material is Material.AMALGAM:
        return (MatrixKind.BAND,)
    return (MatrixKind.BAND, MatrixKind.SECTIONAL)


def _kind(cavity: Cavity, material: Material, preferred: MatrixKind | None) -> MatrixKind:
    suitable = suitable_kinds(cavity, material)
    if preferred is None:
        return suitable[0]
    if preferred not in suitable:
        names = " or ".join(kind.value for kind in suitable)
        raise ClinicalError(
            f"matrix {preferred.value} for {cavity.tooth.iso} {cavity.letters}",
            f"a class {cavity.cavity_class.value} {material.value} filling takes {names}",
            "choose one of those or leave the matrix out",
        )
    return preferred


def band_kind(tooth: Tooth, *, deep_box: bool = False) -> BandKind:
    """Return the band form: extension for a deep box, else straight (premolar) or contoured.

    Raises ClinicalError for an anterior tooth.
    """
    if not tooth.posterior:
        raise ClinicalError(
            f"band on {tooth.iso}", "anterior teeth take a clear strip", "choose clear-strip"
        )
    if deep_box:
        return BandKind.EXTENSION
    return BandKind.STRAIGHT if tooth.kind is Kind.PREMOLAR else BandKind.CONTOURED


def guide_slot(tooth: Tooth) -> GuideSlot:
    """Return the side guide for the tooth's quadrant: 16 and 36 share one, 26 and 46 the other."""
    if tooth.corner in {1, 3}:
        return GuideSlot.UPPER_RIGHT_LOWER_LEFT
    return GuideSlot.UPPER_LEFT_LOWER_RIGHT


def retainer_side(cavity: Cavity) -> str:
    """Return `buccal`, or the tongue's side when the buccal wall is missing (the exception:
    memory)."""
    return wedge_side(cavity.tooth) if Surface.BUCCAL in cavity.missing_walls else "buccal"


def wedge_side(tooth: Tooth) -> str:
    """Return the larger embrasure: `palatal` on upper teeth, `lingual` on lower teeth."""
    return "palatal" if tooth.arch == "upper" else "lingual"


def check_loop(wider_opening_faces: str) -> tuple[Finding, ...]:
    """Check the loop: its wider opening faces the occlusal; anything else is refused."""
    if wider_opening_faces == WIDER_OPENING:
        return ()
    return (
        block(
            "the loop is upside down: the wider opening faces the occlusal",
            f"{sources.MATRIX_HOW_TO}; {sources.MATRIX_LECTURE}",
        ),
    )


def check_slots(slots_face: str) -> tuple[Finding, ...]:
    """Check the retainer: its slots face the gingiva so that it lifts off occlusally."""
    if slots_face == SLOTS_FACE:
        return ()
    return (
        block(
            "the retainer is upside down: its slots face the gingiva",
            f"{sources.MATRIX_CARDS}; {sources.MATRIX_LECTURE}",
        ),
    )


def neighbour_findings(cavity: Cavity, missing: Collection[Tooth]) -> tuple[Finding, ...]:
    """Warn about an open side with no tooth beside it: no contact can be formed there."""
    found = []
    for side in cavity.proximal:
        beside = cavity.tooth.neighbour(mesial=side is Surface.MESIAL)
        if beside is not None and beside in missing:
            text = f"no tooth on the {side.value} side: no contact to form, no hold for a ring"
            found.append(warn(text, sources.COMMON_PRACTICE))
    return tuple(found)


def _findings(
    cavity: Cavity, material: Material, kind: MatrixKind, deep_box: bool
) -> tuple[Finding, ...]:
    found = []
    tooth = cavity.tooth
    if kind is MatrixKind.BAND and Surface.BUCCAL in cavity.missing_walls:
        found.append(
            warn("the buccal wall is missing: the retainer sits lingual", sources.MATRIX_TEXTBOOK)
        )
    if kind is MatrixKind.BAND and material is Material.COMPOSITE:
        found.append(
            note(
                "a circumferential band tends to leave an open contact with composite",
                sources.MATRIX_PLACEMENT,
            )
        )
    if kind is MatrixKind.BAND and deep_box:
        found.append(note("deep box: an extension band reaches the margin", sources.MATRIX_HOW_TO))
    upper_first_molar = tooth.arch == "upper" and tooth.position == 6
    if upper_first_molar and Surface.MESIAL in cavity.proximal:
        found.append(
            note(
                "an upper first molar may be wedged from the buccal on its mesial side",
                sources.MATRIX_TEXTBOOK,
            )
        )
    if material is Material.AMALGAM and kind is MatrixKind.CLEAR_STRIP:
        found.append(
            query(
                f"amalgam in a class {cavity.cavity_class.value} cavity: is that meant?",
                sources.COMMON_PRACTICE,
            )
        )
    return tuple(found)
