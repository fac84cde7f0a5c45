"""Light curing: radiant exposure, seconds, increments, and what to warn about.

Radiant exposure (J/cm2) is irradiance (mW/cm2) times seconds, divided by 1000. Seconds are
rounded up. Sources: scielo.br S1806-83242015000100257 (16 J/cm2 for 2 mm), PMC5608064 and
mdentjournal 198068 (increments, bulk fill), the 2014 light-curing consensus (high output), IADR
2013 abstract 176031 (distance), ISO 4049 as read on a secondary page (depth of cure). The floor of
400 mW/cm2 is a convention of practice, not an ISO limit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, note, warn
from sidecue.clinical.quantity import Number, exact, not_negative, plain, positive, whole_up

TARGET_J_PER_CM2 = 16  # for 2 mm; instructions range from about 6 to 24
TARGET_RANGE = (6, 24)
#: The usual dose would take five minutes a layer: such a light is broken, or its output was written
#: in another unit (common practice, no source).
LEAST_MW_PER_CM2 = 50
LOW_MW_PER_CM2 = 400
HIGH_MW_PER_CM2 = 1500
SHORT_SECONDS = 5
FAR_MM = 4  # where two lights were measured to have lost 15 and 71 %
CONVENTIONAL_MM = Fraction(2)
BULK_MM = Fraction(4)
BULK_MOST_MM = Fraction(5)  # some instructions
BULK_DEEP_SECONDS = 40  # at 1200 mW/cm2, 4 mm was hard in every material only after 40 s
WARM_SECONDS = 20  # longer exposures: air or a pause (common practice, no source)
ISO_4049_DEPTH_MM = {False: Fraction("1.5"), True: Fraction(1)}  # by opaque shade


def radiant_exposure(irradiance: Number, seconds: Number) -> Fraction:
    """Return J/cm2 for an irradiance in mW/cm2 and a time in seconds."""
    return positive(irradiance, "irradiance") * not_negative(seconds, "seconds") / 1000


def cure_seconds(irradiance: Number, target: Number = TARGET_J_PER_CM2) -> int:
    """Return the whole seconds, rounded up, that reach `target` J/cm2 at `irradiance` mW/cm2."""
    return whole_up(positive(target, "target exposure") * 1000 / positive(irradiance, "irradiance"))


def loss_percent(near: Number, far: Number) -> Fraction:
    """Return the per cent of irradiance lost between two readings of the same light."""
    at_tip = positive(near, "irradiance at the tip")
    return (at_tip - not_negative(far, "irradiance at distance")) / at_tip * 100


def irradiance_at(table: Mapping[int, Number], distance_mm: Number) -> Fraction:
    """Return the irradiance at a distance from the light's own table (mm to mW/cm2).

    Lights differ too much for one factor, so the reading at the next larger tabled distance is
    used; nothing is interpolated. Raises ClinicalError beyond the table.
    """
    distance = not_negative(distance_mm, "distance (mm)")
    for mm in sorted(table):
        if mm >= distance:
            return positive(table[mm], f"irradiance at {mm} mm")
    raise ClinicalError(
        f"distance {plain(distance)} mm",
        "further than this light was measured",
        "measure the light at that distance and enter the reading",
    )


def cure_findings(
    irradiance: Number, seconds: Number, target: Number = TARGET_J_PER_CM2
) -> tuple[Finding, ...]:
    """Return cautions about one exposure: weak, strong, short or warm light, target missed."""
    light = positive(irradiance, "irradiance")
    time = positive(seconds, "seconds")
    wanted = positive(target, "target exposure")
    got = radiant_exposure(light, time)
    found = []
    if light < LOW_MW_PER_CM2:
        found.append(
            warn(f"light is weak: {plain(light)} is below 400 mW/cm2", sources.LIGHT_CONVENTION)
        )
    if light > HIGH_MW_PER_CM2:
        found.append(
            warn(f"light is strong: {plain(light)} mW/cm2, watch heat", sources.LIGHT_CONSENSUS)
        )
    if light > HIGH_MW_PER_CM2 and time <= SHORT_SECONDS:
        found.append(
            warn("short exposure: a tip that moves leaves it soft", sources.LIGHT_CONSENSUS)
        )
    if got < wanted:
        found.append(
            warn(
                f"{plain(got, 1)} J/cm2 is below the target of {plain(wanted, 1)}",
                f"{sources.LIGHT_TARGET}; {sources.LIGHT_UNDERDOSE}",
            )
        )
    least, most = TARGET_RANGE
    if not least <= wanted <= most:
        found.append(
            warn(
                f"target of {plain(wanted, 1)} J/cm2 is outside the usual {least} to {most}",
                "instructions for use of several composites (from memory)",
            )
        )
    if time > WARM_SECONDS:
        found.append(note("long exposure: air on the tooth, or pause", sources.LIGHT_HEAT))
    return tuple(found)


@dataclass(frozen=True, slots=True)
class Increments:
    """How a depth is built up: `count` layers of at most `thickness_mm` each."""

    count: int
    thickness_mm: Fraction
    findings: tuple[Finding, ...]


def layer_limit(*, bulk_fill: bool, instructions_mm: Number | None = None) -> Fraction:
    """Return the thickest layer in millimetres: 2, bulk fill 4, or what the instructions say.

    Raises ClinicalError for instructions above 2 mm (conventional) or 5 mm (bulk fill).
    """
    usual, most = (BULK_MM, BULK_MOST_MM) if bulk_fill else (CONVENTIONAL_MM, CONVENTIONAL_MM)
    if instructions_mm is None:
        return usual
    limit = positive(instructions_mm, "increment (mm)")
    if limit > most:
        kind = "bulk-fill" if bulk_fill else "conventional"
        raise ClinicalError(
            f"{plain(limit)} mm increment of {kind} composite",
            f"light does not cure deeper than {plain(most)} mm ({sources.INCREMENTS})",
            "check the instructions, or mark the material as bulk fill",
        )
    return limit


def check_increment(
    thickness_mm: Number, *, bulk_fill: bool, instructions_mm: Number | None = None
) -> Fraction:
    """Return the thickness of one layer; raise ClinicalError when it is too thick to cure."""
    thickness = positive(thickness_mm, "increment (mm)")
    limit = layer_limit(bulk_fill=bulk_fill, instructions_mm=instructions_mm)
    if thickness > limit:
        raise ClinicalError(
            f"{plain(thickness)} mm increment",
            f"this composite cures to {plain(limit)} mm ({sources.INCREMENTS})",
            "place it in thinner layers",
        )
    return thickness


def increments(
    depth_mm: Number,
    *,
    bulk_fill: bool,
    instructions_mm: Number | None = None,
    seconds: Number | None = None,
) -> Increments:
    """Return the equal layers that build up `depth_mm`.

    `seconds` is the planned exposure per layer; a deep bulk layer under 40 s is warned about.
    """
    depth = positive(depth_mm, "depth (mm)")
    limit = layer_limit(bulk_fill=bulk_fill, instructions_mm=instructions_mm)
    count = whole_up(depth / limit)
    thickness = depth / count
    found = []
    deep = thickness > CONVENTIONAL_MM
    if deep and (seconds is None or exact(seconds, "seconds") < BULK_DEEP_SECONDS):
        found.append(
            warn("thick bulk layer: 40 s at 1200 mW/cm2 was needed for 4 mm", sources.BULK_FILL)
        )
    if thickness > BULK_MM:
        found.append(warn("no tested bulk fill was hard at 5 mm", sources.BULK_FILL))
    return Increments(count, thickness, tuple(found))


def depth_of_cure(scraped_mm: Number) -> Fraction:
    """Return the depth of cure: half the length left after scraping (ISO 4049)."""
    return not_negative(scraped_mm, "scraped length (mm)") / 2


def meets_iso_4049(scraped_mm: Number, *, opaque: bool) -> bool:
    """Tell whether a scraped length passes: 1.5 mm deep, or 1.0 mm for opaque shades."""
    return depth_of_cure(scraped_mm) >= ISO_4049_DEPTH_MM[opaque]
