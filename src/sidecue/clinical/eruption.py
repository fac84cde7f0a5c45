"""Which tooth usually stands in a place at an age: mixed dentition, for the dam.

Ages by which a permanent tooth has usually come through: the later figure of the eruption chart of
a national dental association (from memory). Children differ by a year or more, so this lays out
and never decides; whoever holds the dam counts what is there.
"""

from __future__ import annotations

from collections.abc import Mapping

from sidecue.clinical import sources
from sidecue.clinical.finding import Finding, warn
from sidecue.clinical.quantity import Number, not_negative
from sidecue.clinical.teeth import Tooth

#: Years, by position from the midline, 1 to 7. Third molars are not counted on at any age.
IN_BY_YEARS: Mapping[str, tuple[int, ...]] = {
    "upper": (8, 9, 12, 11, 12, 7, 13),
    "lower": (7, 8, 10, 12, 12, 7, 13),
}
ALL_IN_BY = 13
_PRIMARY_LAST = 5


def erupted(tooth: Tooth, age_years: Number) -> bool:
    """Tell whether a permanent tooth has usually come through at `age_years`."""
    ages = IN_BY_YEARS[tooth.arch]
    known = ages[tooth.position - 1] if tooth.position <= len(ages) else ALL_IN_BY
    return not_negative(age_years, "age (years)") >= known


def standing(tooth: Tooth, age_years: Number | None) -> Tooth | None:
    """Return the tooth that usually stands in the place of `tooth` at `age_years`.

    A permanent tooth not yet through is its primary predecessor, or nothing behind those; a
    primary tooth already shed is its successor. At an unknown age it is the tooth itself.
    """
    if age_years is None:
        return tooth
    permanent = Tooth(10 * tooth.corner + tooth.position)
    if erupted(permanent, age_years):
        return permanent
    if tooth.position > _PRIMARY_LAST:
        return None
    return Tooth(10 * (tooth.corner + 4) + tooth.position)


def mixed_findings(age_years: Number | None) -> tuple[Finding, ...]:
    """Warn that teeth by age are only usual, until the second molars are in."""
    if age_years is None or not_negative(age_years, "age (years)") >= ALL_IN_BY:
        return ()
    text = "teeth through the dam are those usual at this age: count what is there"
    return (warn(text, sources.ERUPTION),)
