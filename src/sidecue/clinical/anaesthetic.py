"""Local anaesthetic solutions: what one cartridge holds.

Milligrams per millilitre are ten times the per cent; a cartridge is 1.7 or 1.8 mL (US) or 2.2 mL
(Australia, UK). Vasoconstrictor is counted as base: 1:100,000 is 10 ug/mL. Some label copies print
the salt (0.018 mg/mL), which is not used. Sources: published generic labels; html5.dcatalog.com
p27-29; dentalcare.com ce547 table 3 for the base.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.quantity import Number, exact, plain


class Drug(StrEnum):
    """An amide anaesthetic."""

    LIDOCAINE = "lidocaine"
    ARTICAINE = "articaine"
    MEPIVACAINE = "mepivacaine"
    PRILOCAINE = "prilocaine"
    BUPIVACAINE = "bupivacaine"


class Vasoconstrictor(StrEnum):
    """What narrows the vessels."""

    EPINEPHRINE = "epinephrine"
    LEVONORDEFRIN = "levonordefrin"


CARTRIDGE_ML = (Fraction("1.7"), Fraction("1.8"), Fraction("2.2"))


@dataclass(frozen=True, slots=True)
class Solution:
    """A drug at a strength, with or without vasoconstrictor.

    `percent` is grams per 100 mL; `one_in` the dilution of the vasoconstrictor (100000 for
    1:100,000), None when plain.
    """

    id: str
    drug: Drug
    percent: Fraction
    vasoconstrictor: Vasoconstrictor | None = None
    one_in: int | None = None

    @property
    def mg_per_ml(self) -> Fraction:
        """Milligrams of drug in one millilitre."""
        return self.percent * 10

    @property
    def vasoconstrictor_ug_per_ml(self) -> Fraction:
        """Micrograms of vasoconstrictor base in one millilitre; 0 when plain."""
        return Fraction(1_000_000, self.one_in) if self.one_in else Fraction(0)

    @property
    def name(self) -> str:
        """The solution in words: `lidocaine 2 % with epinephrine 1:100,000`."""
        base = f"{self.drug.value} {plain(self.percent)} %"
        if self.vasoconstrictor is None or self.one_in is None:
            return f"{base} plain"
        return f"{base} with {self.vasoconstrictor.value} 1:{self.one_in:,}"

    @property
    def family(self) -> str:
        """Drug and vasoconstrictor without strengths, the key of the numbness table."""
        other = "plain" if self.vasoconstrictor is None else self.vasoconstrictor.value
        return f"{self.drug.value}-{other}"


def _solution(drug: Drug, percent: str, one_in: int | None = None,
              agent: Vasoconstrictor = Vasoconstrictor.EPINEPHRINE) -> Solution:  # fmt: skip
    if one_in is None:
        return Solution(f"{drug.value}-plain", drug, Fraction(percent))
    identifier = f"{drug.value}-{agent.value}-{one_in // 1000}k"
    return Solution(identifier, drug, Fraction(percent), agent, one_in)


SOLUTIONS: dict[str, Solution] = {
    solution.id: solution
    for solution in (
        _solution(Drug.LIDOCAINE, "2", 50_000),
        _solution(Drug.LIDOCAINE, "2", 80_000),
        _solution(Drug.LIDOCAINE, "2", 100_000),
        _solution(Drug.ARTICAINE, "4", 100_000),
        _solution(Drug.ARTICAINE, "4", 200_000),
        _solution(Drug.MEPIVACAINE, "3"),
        _solution(Drug.MEPIVACAINE, "2", 20_000, Vasoconstrictor.LEVONORDEFRIN),
        _solution(Drug.PRILOCAINE, "4"),
        _solution(Drug.PRILOCAINE, "4", 200_000),
        _solution(Drug.BUPIVACAINE, "0.5", 200_000),
    )
}


def solution_named(identifier: str) -> Solution:
    """Return the solution of an id such as `lidocaine-epinephrine-100k`.

    Raises ClinicalError that lists the known ids.
    """
    try:
        return SOLUTIONS[identifier]
    except KeyError as error:
        raise ClinicalError(
            f"anaesthetic {identifier!r}", "not a known solution", f"one of {', '.join(SOLUTIONS)}"
        ) from error


def cartridge(volume_ml: Number) -> Fraction:
    """Return a cartridge volume exactly; raise ClinicalError unless it is 1.7, 1.8 or 2.2 mL."""
    volume = exact(volume_ml, "cartridge (mL)")
    if volume not in CARTRIDGE_ML:
        raise ClinicalError(
            f"cartridge of {plain(volume)} mL", "not a size in use", "1.7, 1.8 or 2.2 mL"
        )
    return volume


def mg_per_cartridge(solution: Solution, volume_ml: Number) -> Fraction:
    """Return the milligrams of drug in one cartridge."""
    return solution.mg_per_ml * cartridge(volume_ml)


def ug_per_cartridge(solution: Solution, volume_ml: Number) -> Fraction:
    """Return the micrograms of vasoconstrictor base in one cartridge."""
    return solution.vasoconstrictor_ug_per_ml * cartridge(volume_ml)
