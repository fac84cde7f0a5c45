"""Surfaces and cavity class: what a filling covers, and which class that makes it.

Sources: dentaldevotee.com and a second teaching page (web) for the classes; class VI is a later
addition (freezingblue.com set 106510). Surface letters from procedure-code and teaching usage
(from memory). Letter order is common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, query
from sidecue.clinical.surfaces import Surface, parse_surfaces, written
from sidecue.clinical.teeth import Kind, Tooth


class CavityClass(StrEnum):
    """The class of a cavity."""

    ONE = "I"
    TWO = "II"
    THREE = "III"
    FOUR = "IV"
    FIVE = "V"
    SIX = "VI"

    @property
    def spoken(self) -> str:
        """The class as it is said: `class two`."""
        return f"class {self.name.lower()}"


@dataclass(frozen=True, slots=True)
class Cavity:
    """One cavity: its tooth, surfaces, class, walls that are missing, and what to ask about."""

    tooth: Tooth
    surfaces: tuple[Surface, ...]  # in the order they are written
    cavity_class: CavityClass
    queries: tuple[Finding, ...] = ()

    @property
    def letters(self) -> str:
        """The surfaces as written: `MOD`, `DOL`, `MIFL`; `P` where the operator wrote it."""
        return written(self.surfaces)

    @property
    def spoken(self) -> str:
        """The surfaces in words: `mesial occlusal distal`."""
        return " ".join(surface.value for surface in self.surfaces)

    @property
    def missing_walls(self) -> tuple[Surface, ...]:
        """Walls the restoration must rebuild, so that something has to stand in for them.

        Mesial and distal in classes II to IV; a buccal or lingual letter of a class II counts as
        a lost cusp wall. Pits, cervical and edge cavities keep their walls.
        """
        if self.cavity_class is CavityClass.TWO:
            return tuple(surface for surface in self.surfaces if surface is not Surface.OCCLUSAL)
        return self.proximal

    @property
    def proximal(self) -> tuple[Surface, ...]:
        """The mesial and distal surfaces involved."""
        return tuple(s for s in self.surfaces if s in {Surface.MESIAL, Surface.DISTAL})


class AmbiguousCavityError(ClinicalError):
    """A buccal or lingual letter alone: a pit (class I) or at the neck of the tooth (class V).

    `if_cervical` and `if_not` carry both readings. Ask; never choose.
    """

    def __init__(self, if_cervical: Cavity, if_not: Cavity) -> None:
        super().__init__(
            f"surface {if_not.letters} of {if_not.tooth.iso} is ambiguous",
            f"class {if_cervical.cavity_class.value} at the neck of the tooth, "
            f"class {if_not.cavity_class.value} elsewhere",
            "say whether it is cervical",
        )
        self.if_cervical = if_cervical
        self.if_not = if_not


def cavity_of(
    tooth: Tooth, surfaces: str, *, cervical: bool | None = None, cusp_tip: bool = False
) -> Cavity:
    """Return the cavity on `tooth` for surface letters such as `DOM`.

    `cervical` says whether a buccal, facial or lingual letter alone lies in the gingival third;
    None asks where that matters. `cusp_tip` marks a worn cusp tip (class VI) on a posterior tooth.
    Raises ClinicalError for letters the tooth does not have, AmbiguousCavityError where only the
    operator can tell.
    """
    covered = parse_surfaces(tooth, surfaces)
    walls_only = all(s.is_facial or s.is_lingual for s in covered)
    if cervical and not walls_only:
        raise ClinicalError(
            f"cervical {written(covered)} of {tooth.iso}",
            "cervical goes with a buccal, facial or lingual letter alone",
            "leave cervical out, or enter the cervical cavity as its own case",
        )
    if cusp_tip and covered != (Surface.OCCLUSAL,):
        raise ClinicalError(
            f"cusp tip with {written(covered)} of {tooth.iso}",
            "a worn cusp tip is entered as O alone on a premolar or molar",
            "leave the cusp tip out",
        )
    if walls_only:
        return _wall_alone(tooth, covered, cervical)
    if tooth.posterior:
        return _posterior(tooth, covered, cusp_tip)
    return _anterior(tooth, covered)


def _posterior(tooth: Tooth, covered: tuple[Surface, ...], cusp_tip: bool) -> Cavity:
    if cusp_tip:
        return Cavity(tooth, covered, CavityClass.SIX)
    if Surface.MESIAL not in covered and Surface.DISTAL not in covered:
        return Cavity(tooth, covered, CavityClass.ONE)
    queries: tuple[Finding, ...] = ()
    if {Surface.MESIAL, Surface.DISTAL} <= set(covered) and Surface.OCCLUSAL not in covered:
        queries = (
            query(
                f"{written(covered)} on {tooth.iso} has both sides without O: is that meant?",
                sources.COMMON_PRACTICE,
            ),
        )
    return Cavity(tooth, covered, CavityClass.TWO, queries)


def _anterior(tooth: Tooth, covered: tuple[Surface, ...]) -> Cavity:
    proximal = Surface.MESIAL in covered or Surface.DISTAL in covered
    edge = Surface.INCISAL in covered
    if proximal:
        return Cavity(tooth, covered, CavityClass.FOUR if edge else CavityClass.THREE)
    queries: tuple[Finding, ...] = ()
    if len(covered) > 1:
        queries = (
            query(
                f"{written(covered)} on {tooth.iso} has an edge without M or D: is that meant?",
                sources.COMMON_PRACTICE,
            ),
        )
    return Cavity(tooth, covered, CavityClass.SIX, queries)


def _wall_alone(tooth: Tooth, covered: tuple[Surface, ...], cervical: bool | None) -> Cavity:
    at_neck = Cavity(tooth, covered, CavityClass.FIVE)
    if cervical:
        return at_neck
    if cervical is None and _lingual_pit(tooth, covered):
        return Cavity(tooth, covered, CavityClass.ONE)
    if tooth.kind is Kind.MOLAR or _lingual_pit(tooth, covered):
        elsewhere = Cavity(tooth, covered, CavityClass.ONE)
    else:
        elsewhere = Cavity(
            tooth,
            covered,
            CavityClass.FIVE,
            (
                query(
                    f"no class names {written(covered)} of {tooth.iso} away from the neck: "
                    "handled as class V",
                    sources.CAVITY_CLASSES,
                ),
            ),
        )
    if cervical is None:
        raise AmbiguousCavityError(at_neck, elsewhere)
    return elsewhere


def _lingual_pit(tooth: Tooth, covered: tuple[Surface, ...]) -> bool:
    """Tell whether this is the pit on the back of an upper incisor, which class I names."""
    upper_incisor = tooth.kind is Kind.INCISOR and tooth.arch == "upper"
    return upper_incisor and len(covered) == 1 and covered[0].is_lingual
