"""All fifty-two teeth, in the notations a practice may write them in.

Sources: ISO 3950:2016 (from memory) for the two-digit designation; forensicspot.com and
pocketdentistry.com for the Universal pairing; liquisearch.com for the primary letters. Left and
right are always the patient's.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sidecue.clinical.errors import ClinicalError


class Notation(StrEnum):
    """How a practice writes a tooth."""

    ISO = "iso"  # 46
    UNIVERSAL = "universal"  # 30; primary teeth A to T
    QUADRANT_SYMBOL = "quadrant-symbol"  # 6┐


class Kind(StrEnum):
    """The form of a tooth."""

    INCISOR = "incisor"
    CANINE = "canine"
    PREMOLAR = "premolar"
    MOLAR = "molar"


DIGIT_WORDS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")

_BRACKETS = {1: "┘", 2: "└", 3: "┌", 4: "┐"}
_PERMANENT_NAMES = (
    "central incisor",
    "lateral incisor",
    "canine",
    "first premolar",
    "second premolar",
    "first molar",
    "second molar",
    "third molar",
)
_PRIMARY_NAMES = (
    "primary central incisor",
    "primary lateral incisor",
    "primary canine",
    "primary first molar",
    "primary second molar",
)
# Universal counts once round the mouth; per quadrant (start, direction).
_UNIVERSAL_PERMANENT = {1: (9, -1), 2: (8, 1), 3: (25, -1), 4: (24, 1)}
_UNIVERSAL_PRIMARY = {1: (6, -1), 2: (5, 1), 3: (16, -1), 4: (15, 1)}


@dataclass(frozen=True, slots=True, order=True)
class Tooth:
    """One tooth by its ISO number. Raises ClinicalError when there is no such tooth."""

    iso: int

    def __post_init__(self) -> None:
        quadrant, position = divmod(self.iso, 10)
        last = 8 if quadrant <= 4 else 5
        if not (1 <= quadrant <= 8 and 1 <= position <= last):
            raise ClinicalError(
                f"ISO {self.iso:02d} is not a tooth",
                "ISO teeth are 11-18, 21-28, 31-38, 41-48 and primary 51-55, 61-65, 71-75, 81-85",
                "check the number on the chart",
            )

    @property
    def quadrant(self) -> int:
        """The ISO quadrant digit, 1 to 8 (5 to 8 are primary)."""
        return self.iso // 10

    @property
    def position(self) -> int:
        """Place from the midline, 1 (central incisor) to 8 (third molar)."""
        return self.iso % 10

    @property
    def primary(self) -> bool:
        """True for a primary (deciduous) tooth."""
        return self.quadrant > 4

    @property
    def corner(self) -> int:
        """The quadrant of the mouth, 1 to 4, whichever dentition."""
        return self.quadrant - 4 if self.primary else self.quadrant

    @property
    def arch(self) -> str:
        """`upper` or `lower`."""
        return "upper" if self.corner in {1, 2} else "lower"

    @property
    def side(self) -> str:
        """The patient's `right` or `left`."""
        return "right" if self.corner in {1, 4} else "left"

    @property
    def kind(self) -> Kind:
        """Incisor, canine, premolar or molar; there are no primary premolars."""
        if self.position <= 2:
            return Kind.INCISOR
        if self.position == 3:
            return Kind.CANINE
        return Kind.PREMOLAR if self.position <= 5 and not self.primary else Kind.MOLAR

    def neighbour(self, *, mesial: bool) -> Tooth | None:
        """Return the next tooth of the same dentition, toward the midline or away from it."""
        if not mesial:
            return None if self.position == (5 if self.primary else 8) else Tooth(self.iso + 1)
        if self.position > 1:
            return Tooth(self.iso - 1)
        across = {1: 2, 2: 1, 3: 4, 4: 3, 5: 6, 6: 5, 7: 8, 8: 7}[self.quadrant]
        return Tooth(10 * across + 1)

    @property
    def posterior(self) -> bool:
        """True for premolars and molars."""
        return self.kind in {Kind.PREMOLAR, Kind.MOLAR}

    @property
    def universal(self) -> str:
        """The Universal designation: `1` to `32`, or `A` to `T` for primary teeth."""
        if self.primary:
            start, direction = _UNIVERSAL_PRIMARY[self.corner]
            return chr(ord("A") - 1 + start + direction * self.position)
        start, direction = _UNIVERSAL_PERMANENT[self.corner]
        return str(start + direction * self.position)

    @property
    def quadrant_symbol(self) -> str:
        """The quadrant-symbol designation: `6┐`, `└2`, `E┘`."""
        mark = chr(ord("A") - 1 + self.position) if self.primary else str(self.position)
        bracket = _BRACKETS[self.corner]
        return f"{mark}{bracket}" if self.side == "right" else f"{bracket}{mark}"

    @property
    def name(self) -> str:
        """The tooth in words: `lower right first molar`."""
        names = _PRIMARY_NAMES if self.primary else _PERMANENT_NAMES
        return f"{self.arch} {self.side} {names[self.position - 1]}"

    @property
    def digits_spoken(self) -> tuple[str, str]:
        """The two ISO digits as words, read one by one: `("four", "six")`."""
        return DIGIT_WORDS[self.quadrant], DIGIT_WORDS[self.position]

    @property
    def spoken(self) -> str:
        """The ISO number read digit by digit: `four six`."""
        return " ".join(self.digits_spoken)

    @property
    def spoken_full(self) -> str:
        """Number and words together: `four six, patient's lower right first molar`."""
        return self.spoken_full_in(Notation.ISO)

    def written_in(self, notation: Notation) -> str:
        """Return the tooth as the practice writes it: `46`, `30` or `6┐`."""
        if notation is Notation.UNIVERSAL:
            return self.universal
        if notation is Notation.QUADRANT_SYMBOL:
            return self.quadrant_symbol
        return str(self.iso)

    def spoken_in(self, notation: Notation) -> str:
        """Return the designation in words, digits singly: `four six`, `three zero`, `letter a`.

        Quadrant symbols have no reading aloud of their own; they are read as ISO digits.
        """
        if notation is not Notation.UNIVERSAL:
            return self.spoken
        if self.primary:
            return f"letter {self.universal.lower()}"
        return " ".join(DIGIT_WORDS[int(digit)] for digit in self.universal)

    def spoken_full_in(self, notation: Notation) -> str:
        """Return number and words together in the practice's notation, for the read-back."""
        return f"{self.spoken_in(notation)}, patient's {self.name}"


PERMANENT_TEETH = tuple(Tooth(10 * q + p) for q in range(1, 5) for p in range(1, 9))
PRIMARY_TEETH = tuple(Tooth(10 * q + p) for q in range(5, 9) for p in range(1, 6))
ALL_TEETH = PERMANENT_TEETH + PRIMARY_TEETH
