"""Amalgam: capsule sizes, times by alloy, strength, supply.

Sources: a capsule data page (spill sizes, ISO 24234 values), dentistry.uiowa.edu (times,
force), coconote.app transcript and Operative Dentistry 2013 (whole mix, filling order). Trituration
times belong to the machine and the instructions and are never listed here. Spills by number of
surfaces are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, block
from sidecue.clinical.quantity import Number, not_negative

# Milligrams of alloy by spill; the sizes are not proportional to their number.
SPILL_MG: dict[Fraction, int] = {
    Fraction(1, 2): 200,
    Fraction(1): 400,
    Fraction(2): 600,
    Fraction(3): 800,
}


class Alloy(StrEnum):
    """The form of the alloy particles."""

    SPHERICAL = "spherical"
    ADMIXED = "admixed"


@dataclass(frozen=True, slots=True)
class Handling:
    """How an alloy is worked. Seconds from the end of the mix; newtons on the condenser."""

    work_warn_s: int
    work_most_s: int
    carve_least_s: int
    carve_most_s: int | None
    condenser: str
    force_newtons: tuple[int, int] | None
    layer_mm: int | None


HANDLING = {
    Alloy.SPHERICAL: Handling(150, 180, 120, 210, "the largest that fits", None, None),
    Alloy.ADMIXED: Handling(180, 210, 270, None, "small", (22, 45), 1),
}

OVERFILL_MM = 1  # at least
POLISH_AFTER_HOURS = 24
STRENGTH_1H_MPA = 100  # ISO 24234:2015, at least
STRENGTH_24H_MPA = 350
STRENGTH_2004_MPA = (80, 300)  # ISO 24234:2004 (from memory)
DIMENSIONAL_CHANGE_PERCENT = (Fraction("-0.10"), Fraction("0.15"))
CREEP_MOST_PERCENT = Fraction(2)

_CAPSULES = {1: (1,), 2: (2,), 3: (3,), 4: (3, 1), 5: (3, 2)}


def spill_mg(spills: Number) -> int:
    """Return the alloy in milligrams of a capsule of ½, 1, 2 or 3 spills."""
    size = not_negative(spills, "spills")
    if size not in SPILL_MG:
        raise ClinicalError(f"{spills}-spill capsule", "no such size", "use 0.5, 1, 2 or 3")
    return SPILL_MG[size]


def capsules_for(surface_count: int) -> tuple[int, ...]:
    """Return the capsules, in spills, usually opened for a number of surfaces (1 to 5)."""
    if surface_count not in _CAPSULES:
        raise ClinicalError(
            f"{surface_count} surfaces", "a tooth has one to five", "check the surfaces"
        )
    return _CAPSULES[surface_count]


def work_over(alloy: Alloy, seconds: Number) -> bool:
    """Tell whether a mix is past its working time: stop, discard, call a new capsule."""
    return not_negative(seconds, "time since the mix (s)") > HANDLING[alloy].work_most_s


def one_hour_strength_share() -> Fraction:
    """Return the least one-hour strength as a share of the least 24-hour strength."""
    return Fraction(STRENGTH_1H_MPA, STRENGTH_24H_MPA)


def meets_iso_24234(*, one_hour_mpa: Number, day_mpa: Number) -> bool:
    """Tell whether measured strengths in MPa meet ISO 24234:2015."""
    return (
        not_negative(one_hour_mpa, "one-hour strength") >= STRENGTH_1H_MPA
        and not_negative(day_mpa, "24-hour strength") >= STRENGTH_24H_MPA
    )


def check_supply(form: str) -> tuple[Finding, ...]:
    """Refuse mercury that is not in `capsules` or `one-mix-sachets`."""
    if form in {"capsules", "one-mix-sachets"}:
        return ()
    if form != "bulk":
        raise ClinicalError(
            f"mercury supply {form!r}", "not a known form", "capsules, one-mix-sachets or bulk"
        )
    return (block("bulk mercury is refused: use capsules or one-mix sachets",
                  sources.AMALGAM_SUPPLY),)  # fmt: skip
