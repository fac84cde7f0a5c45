"""Reading a tooth from what was written or said, without ever guessing the notation.

Eighteen numbers (11-18, 21-28, 31, 32) are teeth in both ISO and Universal. The digits 1 to 8 and
the letters A to E mean one tooth in Universal but a position in any quadrant in quadrant-symbol
notation, when its bracket is left off. Such a
designation is asked about unless the practice has fixed its notation.
Sources: ISO 3950:2016 (from memory); forensicspot.com; liquisearch.com for the letter clash.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.teeth import ALL_TEETH, DIGIT_WORDS, Notation, Tooth


@dataclass(frozen=True, slots=True)
class Reading:
    """One way to read a designation."""

    notation: Notation
    tooth: Tooth

    def __str__(self) -> str:
        return f"{self.notation.value} reads it as {self.tooth.iso}, {self.tooth.name}"


class AmbiguousToothError(ClinicalError):
    """A designation that means different teeth; `readings` carries every one of them."""

    def __init__(self, text: str, readings: tuple[Reading, ...]) -> None:
        super().__init__(
            f"tooth {text!r} is ambiguous",
            "; ".join(str(reading) for reading in readings),
            "set the notation (iso or universal), or say which tooth in words",
        )
        self.text = text
        self.readings = readings


_UNITS = {word: number for number, word in enumerate(DIGIT_WORDS)}
_TEENS = {
    word: number
    for number, word in enumerate(
        ("ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen",
         "eighteen", "nineteen"), start=10)
}  # fmt: skip
_TENS = {
    word: 10 * number
    for number, word in enumerate(
        ("twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty"), start=2
    )
}
_BY_ISO = {tooth.iso: tooth for tooth in ALL_TEETH}
_BY_UNIVERSAL = {tooth.universal: tooth for tooth in ALL_TEETH}
_BY_SYMBOL = {tooth.quadrant_symbol: tooth for tooth in ALL_TEETH}
_BY_NAME = {tooth.name: tooth for tooth in ALL_TEETH}
# A quadrant-symbol mark without its bracket: dentition and position, in any quadrant.
_POSITIONS = {str(number): (False, number) for number in range(1, 9)} | {
    letter: (True, number) for number, letter in enumerate("ABCDE", start=1)
}
_ISO_AREAS = {f"{area:02d}" for area in (*range(9), 10, 20, 30, 40)}


def parse_tooth(text: str, notation: Notation | str | None = None) -> Tooth:
    """Return the tooth that `text` names: `46`, `#30`, `four six`, `forty-six`, `A`, `6┐`, words.

    `notation` is what the practice has fixed; None when it has not. Quadrant symbols and full
    names are never ambiguous and are read in any notation. Raises AmbiguousToothError when two
    notations give different teeth, ClinicalError when none gives a tooth.
    """
    fixed = None if notation is None else _notation(notation)
    said = " ".join(text.lower().split())
    certain = _BY_NAME.get(said.removeprefix("patient's ")) or _BY_SYMBOL.get(said.upper())
    if certain is not None:
        return certain
    bare = re.sub(r"^(tooth )?(number |letter |# ?)?", "", said)
    mark = bare.upper() if re.fullmatch(r"[a-t]", bare) else _digits(bare)
    if mark is None:
        raise ClinicalError(
            f"tooth {text!r}",
            "not a tooth number",
            "write it as 46, #30, a letter A to T, or say the digits one by one",
        )
    return _tooth_of(mark, text, fixed)


def _notation(value: Notation | str) -> Notation:
    try:
        return Notation(value)
    except ValueError as error:
        raise ClinicalError(
            f"notation {value!r}",
            "not a tooth notation",
            f"use one of {', '.join(item.value for item in Notation)}",
        ) from error


def _digits(said: str) -> str | None:
    """Return one or two digits from figures or words; None when it is neither."""
    parts = re.split(r"[ -]", said)
    if len(parts) == 1:
        word = parts[0]
        if re.fullmatch(r"[0-9]{1,2}", word):
            return word
        number = {**_UNITS, **_TEENS, **_TENS}.get(word)
        return None if number is None else str(number)
    if len(parts) != 2:
        return None
    first, second = (_UNITS.get(p, int(p) if re.fullmatch("[0-9]", p) else None) for p in parts)
    if second is None:
        return None
    if first is not None:
        return f"{first}{second}"
    tens = _TENS.get(parts[0])
    return str(tens + second) if tens is not None and second > 0 else None


def _tooth_of(mark: str, text: str, fixed: Notation | None) -> Tooth:
    readings = _readings(mark)
    if fixed is not None:
        readings = tuple(reading for reading in readings if reading.notation is fixed)
    if not readings:
        raise ClinicalError(f"tooth {text!r}", _why_none(mark, fixed), _mend(fixed))
    if len({reading.tooth for reading in readings}) > 1:
        raise AmbiguousToothError(text, readings)
    return readings[0].tooth


def _readings(mark: str) -> tuple[Reading, ...]:
    found = []
    if mark.isdigit() and len(mark) == 2 and int(mark) in _BY_ISO:
        found.append(Reading(Notation.ISO, _BY_ISO[int(mark)]))
    if mark in _BY_UNIVERSAL:
        found.append(Reading(Notation.UNIVERSAL, _BY_UNIVERSAL[mark]))
    if mark in _POSITIONS:
        primary, position = _POSITIONS[mark]
        found.extend(
            Reading(Notation.QUADRANT_SYMBOL, tooth)
            for tooth in ALL_TEETH
            if tooth.primary is primary and tooth.position == position
        )
    return tuple(found)


def _why_none(mark: str, fixed: Notation | None) -> str:
    if fixed is Notation.UNIVERSAL:
        return "Universal teeth are 1 to 32 and the letters A to T"
    if mark in _ISO_AREAS and len(mark) == 2:
        return f"{mark} names an area of the mouth in ISO 3950, not a tooth"
    if fixed is Notation.QUADRANT_SYMBOL:
        return "a quadrant symbol needs its bracket"
    return "ISO teeth are 11-18, 21-28, 31-38, 41-48 and primary 51-55, 61-65, 71-75, 81-85"


def _mend(fixed: Notation | None) -> str:
    if fixed is Notation.QUADRANT_SYMBOL:
        return "write it as 6┐ or └2, or say the tooth in words"
    return "check the number on the chart"
