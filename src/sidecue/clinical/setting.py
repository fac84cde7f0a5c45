"""How long cements take to set, by their standards.

Net setting time in minutes from the end of the mix. Sources: ISO 9917-1:2007 (from memory; the
edition in force is 2025) and ISO 3107:2011 (numbers from memory, low confidence; in force 2022).
Two restorative glass ionomers at 4.83 and 3.83 min are reported inside the range (Dent Res J
2022;19:109). The product's instructions come first.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, warn
from sidecue.clinical.quantity import Number, plain, positive


class Cement(StrEnum):
    """A water- or eugenol-based cement."""

    GLASS_IONOMER = "glass-ionomer"
    ZINC_PHOSPHATE = "zinc-phosphate"
    POLYCARBOXYLATE = "polycarboxylate"
    EUGENOL = "zinc-oxide-eugenol"


class Use(StrEnum):
    """What the cement is used for."""

    LUTING = "luting"
    BASE = "base"
    RESTORATIVE = "restorative"


@dataclass(frozen=True, slots=True)
class SettingRange:
    """The least and most net setting time in minutes, and the least 24 h strength in MPa."""

    least_min: Fraction
    most_min: Fraction
    strength_mpa: int | None
    source: str


def _range(least: str, most: str, strength: int | None, source: str) -> SettingRange:
    return SettingRange(Fraction(least), Fraction(most), strength, source)


SETTING = {
    (Cement.GLASS_IONOMER, Use.LUTING): _range("1.5", "8", 50, sources.ISO_9917),
    (Cement.GLASS_IONOMER, Use.BASE): _range("1.5", "6", 50, sources.ISO_9917),
    (Cement.GLASS_IONOMER, Use.RESTORATIVE): _range("1.5", "6", 100, sources.ISO_9917),
    (Cement.ZINC_PHOSPHATE, Use.LUTING): _range("2.5", "8", 50, sources.ISO_9917),
    (Cement.ZINC_PHOSPHATE, Use.BASE): _range("2", "6", 50, sources.ISO_9917),
    (Cement.POLYCARBOXYLATE, Use.LUTING): _range("2.5", "8", 50, sources.ISO_9917),
    (Cement.POLYCARBOXYLATE, Use.BASE): _range("2", "6", 50, sources.ISO_9917),
    (Cement.EUGENOL, Use.BASE): _range("1.5", "10", 5, sources.ISO_3107),
    (Cement.EUGENOL, Use.LUTING): _range("1.5", "10", None, sources.ISO_3107),
}

# Type I zinc oxide eugenol must come away again: at most this strength.
TEMPORARY_LUTING_MOST_MPA = 35


def setting_range(cement: Cement, use: Use) -> SettingRange:
    """Return the range of a cement's use; raise ClinicalError where the standards have none."""
    found = SETTING.get((cement, use))
    if found is None:
        raise ClinicalError(
            f"{cement.value} as {use.value}", "no standard range", "check the material's use"
        )
    return found


def check_setting(cement: Cement, use: Use, minutes: Number) -> tuple[Finding, ...]:
    """Warn when a set time from the instructions lies outside the standard's range."""
    given = positive(minutes, "setting time (min)")
    bounds = setting_range(cement, use)
    if bounds.least_min <= given <= bounds.most_min:
        return ()
    text = (
        f"{cement.value} setting in {plain(given)} min is outside "
        f"{plain(bounds.least_min)} to {plain(bounds.most_min)} min: check the instructions"
    )
    return (warn(text, bounds.source),)
