"""Numbers a practice enters that cannot be meant: a slip of the pen, or of the unit."""

from __future__ import annotations

from collections.abc import Iterator

from sidecue.clinical.curing import BULK_MOST_MM, LEAST_MW_PER_CM2
from sidecue.procedure.case import DEEPEST_MM
from sidecue.procedure.schema import LightEntry, PracticeFile
from sidecue.procedure.source import Document, Fault, Place, Sourced
from sidecue.procedure.words import MOST_ROUNDS

TARGET = "target-joules-per-cm2"
INCREMENT = "increment-mm"

FURTHEST_MM = 30  # of a light's reading; further off nothing is cured
BRIGHTEST_MW = 10_000  # no curing light comes near it (common practice, no source)

#: The least and the most of each number, and its unit. A thinner layer could not be counted aloud
#: in the deepest cavity, and no composite asks for one; doses of instructions run from 6 to 24
#: J/cm2, and outside 1 to 100 another unit was written (common practice, no source).
_BOUNDS = {
    INCREMENT: (DEEPEST_MM / MOST_ROUNDS, float(BULK_MOST_MM), "mm"),
    TARGET: (1.0, 100.0, "J/cm2"),
}


def number_faults(source: Sourced[PracticeFile]) -> Iterator[Fault]:
    """Yield every number of a practice that its light or its products cannot have."""
    yield from _light(source.document, source.model.light)
    for number, entry in enumerate(source.model.materials):
        for name, value in entry.numbers.items():
            place = ("materials", number, "numbers", name)
            yield from _number(source.document, place, name, value)


def _light(document: Document, light: LightEntry) -> Iterator[Fault]:
    at_tip = light.irradiance
    if at_tip is not None and not LEAST_MW_PER_CM2 <= at_tip < BRIGHTEST_MW:
        yield document.fault(
            ("light", "irradiance"), f"irradiance {at_tip:g} is not a light's", _in_mw(at_tip)
        )
        return  # its readings further off are measured by the same meter
    for mm, reading in light.at_mm.items():
        if at_tip is None or not (0 < reading <= at_tip and 0 < mm <= FURTHEST_MM):
            yield document.fault(
                ("light", "at-mm"),
                f"{reading:g} mW/cm2 at {mm} mm cannot be",
                f"enter `irradiance`, and readings no higher at 1 to {FURTHEST_MM} mm",
            )
        elif reading < LEAST_MW_PER_CM2:
            yield document.fault(
                ("light", "at-mm"),
                f"{reading:g} mW/cm2 at {mm} mm cures nothing",
                f"{_in_mw(reading)}, or leave this distance out",
            )


def _in_mw(written: float) -> str:
    """Return how to mend an output; a few units are what a meter shows in W/cm2."""
    mend = f"enter what the meter shows in mW/cm2, at least {LEAST_MW_PER_CM2}"
    slip = 0 < written < BRIGHTEST_MW / 1000
    return f"{mend} ({written:g} W/cm2 is {written * 1000:g} mW/cm2)" if slip else mend


def _number(document: Document, place: Place, name: str, value: float) -> Iterator[Fault]:
    least, most, unit = _BOUNDS.get(name, (0.0, 10_000.0, ""))
    if value > 0 and least <= value <= most:
        return
    if not unit:
        yield document.fault(place, f"{name!r} is {value:g}", "enter a number above zero")
        return
    mend = f"enter what the instructions give, from {least:g} to {most:g} {unit}"
    yield document.fault(place, f"{name!r} is {value:g}, which cannot be", mend)
