"""The surfaces of a tooth and the letters they are written with.

Posterior teeth have M D O B L (F read as B; P on upper teeth); anterior teeth M D I F L (B read
as F; P on upper teeth). Source: procedure-code and teaching usage (from memory). The order of
the letters is common practice, no source.
"""

from __future__ import annotations

from enum import StrEnum

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.teeth import Tooth


class Surface(StrEnum):
    """One surface. Palatal is the lingual surface of an upper tooth, as the operator wrote it."""

    MESIAL = "mesial"
    DISTAL = "distal"
    OCCLUSAL = "occlusal"
    INCISAL = "incisal"
    BUCCAL = "buccal"
    FACIAL = "facial"
    LINGUAL = "lingual"
    PALATAL = "palatal"

    @property
    def letter(self) -> str:
        """The single letter it is written with."""
        return self.value[0].upper()

    @property
    def is_facial(self) -> bool:
        """True for the cheek or lip side."""
        return self in {Surface.BUCCAL, Surface.FACIAL}

    @property
    def is_lingual(self) -> bool:
        """True for the tongue or palate side."""
        return self in {Surface.LINGUAL, Surface.PALATAL}


_BY_LETTER = {surface.letter: surface for surface in Surface}


def parse_surfaces(tooth: Tooth, text: str) -> tuple[Surface, ...]:
    """Return the surfaces in the order they are written, from letters in any order.

    `DOM` gives mesial, occlusal, distal. Spaces, commas, hyphens, slashes and plus signs between
    letters are ignored. Raises ClinicalError for a letter that `tooth` does not have or that is
    given twice.
    """
    letters = [letter for letter in text.upper() if letter not in " ,-/+"]
    if not letters:
        raise ClinicalError(
            f"surfaces {text!r} of {tooth.iso}", "no surface given", "enter letters such as MO"
        )
    covered = [_surface(tooth, letter, text) for letter in letters]
    sides = ["lingual" if s.is_lingual else s.value for s in covered]
    if len(set(sides)) < len(sides):
        raise ClinicalError(
            f"surfaces {text!r} of {tooth.iso}",
            "the same surface is given twice",
            "enter each surface once",
        )
    return _in_order(covered)


def written(covered: tuple[Surface, ...]) -> str:
    """Return the letters of `covered`, in their order."""
    return "".join(surface.letter for surface in covered)


def _surface(tooth: Tooth, letter: str, text: str) -> Surface:
    surface = _BY_LETTER.get(letter)
    if surface is not None and surface.is_facial:
        surface = Surface.BUCCAL if tooth.posterior else Surface.FACIAL
    allowed = {Surface.MESIAL, Surface.DISTAL, Surface.LINGUAL}
    allowed |= {Surface.OCCLUSAL, Surface.BUCCAL} if tooth.posterior else {
        Surface.INCISAL, Surface.FACIAL}  # fmt: skip
    if tooth.arch == "upper":
        allowed.add(Surface.PALATAL)
    if surface is None or surface not in allowed:
        has = ", ".join(sorted(item.letter for item in allowed))
        why = {
            "P": "a lower tooth has no palatal surface",
            "O": "an anterior tooth has an incisal edge, not an occlusal surface",
            "I": "a posterior tooth has an occlusal surface, not an incisal edge",
        }.get(letter, f"{letter!r} is not a surface letter")
        raise ClinicalError(f"surfaces {text!r} of {tooth.iso}", why, f"this tooth has {has}")
    return surface


def _in_order(covered: list[Surface]) -> tuple[Surface, ...]:
    """Order as written: M, O or I, D; but a lone D stands before O or I; then facial, lingual."""
    ranks = {
        Surface.MESIAL: 0, Surface.OCCLUSAL: 1, Surface.INCISAL: 1, Surface.DISTAL: 2,
        Surface.BUCCAL: 3, Surface.FACIAL: 3, Surface.LINGUAL: 4, Surface.PALATAL: 4,
    }  # fmt: skip
    if Surface.MESIAL not in covered:
        ranks[Surface.DISTAL] = 0
    return tuple(sorted(covered, key=ranks.__getitem__))
