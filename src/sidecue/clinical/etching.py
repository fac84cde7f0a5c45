"""Etching, rinsing and bonding: which times each adhesive mode has, and their usual bounds.

The times themselves come from the instructions for use; these bounds only tell when a number is
out of the usual range, and never fill a gap. Sources: ACS Omega 2021 (PMC8158842, table 4) for
rinse and adhesive; scribd 431071973 for enamel and dentine; teaching pages (web) for selective
etching and the glass ionomer conditioner; a review page (web) for primary enamel.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, note, warn
from sidecue.clinical.quantity import Number, not_negative, plain, positive


class AdhesiveMode(StrEnum):
    """How the adhesive is used."""

    TOTAL_ETCH = "total-etch"  # etch and rinse, enamel and dentine
    SELECTIVE_ETCH = "selective-etch"  # acid on enamel only
    SELF_ETCH = "self-etch"  # no separate acid, no rinse


@dataclass(frozen=True, slots=True)
class TimeBounds:
    """The usual range of a time, in seconds; None where that end is open."""

    least: int | None
    most: int | None
    source: str

    @property
    def in_words(self) -> str:
        """The range as it is told, such as "15 to 30 s" or "at least 20 s"."""
        if self.most is None:
            return f"at least {self.least} s"
        if self.least is None:
            return f"at most {self.most} s"
        return f"{self.most} s" if self.least == self.most else f"{self.least} to {self.most} s"


ENAMEL = TimeBounds(15, 30, sources.ETCH_NOTES)
DENTINE_MOST_S = 15
SCLEROTIC_MOST_S = 30
DENTINE = TimeBounds(None, DENTINE_MOST_S, sources.ETCH_NOTES)
SCLEROTIC_DENTINE = TimeBounds(None, SCLEROTIC_MOST_S, sources.ETCH_NOTES)
PRIMARY_ENAMEL = TimeBounds(15, None, sources.PRIMARY_ETCH)  # longer by its instructions
SELECTIVE_ENAMEL = TimeBounds(15, 15, sources.SELECTIVE_ETCH)
PRIMER = TimeBounds(20, None, sources.ADHESIVE_TABLE)  # rubbed in
SCRUB = TimeBounds(10, 20, sources.ADHESIVE_TABLE)
AIR_THIN = TimeBounds(5, 10, sources.ADHESIVE_TABLE)
ADHESIVE_CURE = TimeBounds(10, 20, sources.ADHESIVE_TABLE)
CONDITIONER = TimeBounds(10, 20, sources.CONDITIONER)
RINSE_LEAST_S = 15

DENTINE_WARN_S = 12  # said shortly before the hard maximum: common practice, no source
ACID_PERCENT = (30, 40)  # phosphoric; usually 35 to 37: scribd 431071973


def enamel_bounds(mode: AdhesiveMode, *, primary: bool = False) -> TimeBounds | None:
    """Return the usual enamel etch of a mode; None where no acid is used."""
    if mode is AdhesiveMode.SELF_ETCH:
        return None
    if primary:
        return PRIMARY_ENAMEL
    return SELECTIVE_ENAMEL if mode is AdhesiveMode.SELECTIVE_ETCH else ENAMEL


def dentine_bounds(mode: AdhesiveMode, *, sclerotic: bool = False) -> TimeBounds | None:
    """Return the usual dentine etch of a mode; None where acid stays off dentine."""
    if mode is not AdhesiveMode.TOTAL_ETCH:
        return None
    return SCLEROTIC_DENTINE if sclerotic else DENTINE


def acid_is_rinsed(mode: AdhesiveMode) -> bool:
    """Tell whether the mode has an acid that is rinsed off; a primer or adhesive never is."""
    return mode is not AdhesiveMode.SELF_ETCH


def rinse_least(etched_seconds: Number) -> Fraction:
    """Return the shortest rinse in seconds: as long as the etch, and at least fifteen."""
    return max(not_negative(etched_seconds, "etch time (s)"), Fraction(RINSE_LEAST_S))


def dentine_overdue(seconds: Number, *, sclerotic: bool = False) -> bool:
    """Tell whether acid has been on dentine for longer than its maximum."""
    most = SCLEROTIC_MOST_S if sclerotic else DENTINE_MOST_S
    return not_negative(seconds, "etch time (s)") > most


def check_time(name: str, seconds: Number, bounds: TimeBounds) -> tuple[Finding, ...]:
    """Warn when an instructions-for-use time lies outside the usual bounds.

    The instructions still win; the warning asks for a second look at what was typed.
    """
    given = positive(seconds, f"{name} (s)")
    if (bounds.least is not None and given < bounds.least) or (
        bounds.most is not None and given > bounds.most
    ):
        text = f"{name} of {plain(given)} s, usual is {bounds.in_words}: check the instructions"
        return (warn(text, bounds.source),)
    return ()


def back_to_after_saliva(*, bonded: bool, mode: AdhesiveMode) -> str | None:
    """Return where work resumes after saliva or blood, until the adhesive is cured.

    `etch` where acid is used, `prime` in self-etch mode; None once the adhesive is cured.
    """
    if bonded:
        return None
    return "prime" if mode is AdhesiveMode.SELF_ETCH else "etch"


def bleaching_findings(*, bleached: bool) -> tuple[Finding, ...]:
    """Warn about bonding to a tooth that was bleached lately."""
    if not bleached:
        return ()
    return (
        warn(
            "bleached tooth: bonding is usually delayed one to three weeks",
            "operative dentistry teaching (from memory)",
        ),
    )


def primary_findings(*, primary: bool) -> tuple[Finding, ...]:
    """Remind that primary enamel is etched for longer, by its instructions."""
    if not primary:
        return ()
    return (note("primary enamel: etch longer, by the instructions", sources.PRIMARY_ETCH),)


def acid_percent_findings(percent: Number) -> tuple[Finding, ...]:
    """Warn about phosphoric acid outside 30 to 40 per cent."""
    given = positive(percent, "acid (%)")
    least, most = ACID_PERCENT
    if least <= given <= most:
        return ()
    if given > 100:
        raise ClinicalError(f"acid {plain(given)} %", "above 100 %", "check the label")
    return (warn(f"acid of {plain(given)} % is outside the usual 30 to 40 %", sources.ETCH_NOTES),)
