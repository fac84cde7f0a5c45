"""Spoken numbers, read without guessing: a whole number or nothing.

Digits said singly ("one five") and as words ("fifteen", "twenty five", "a hundred and twenty"),
with a decimal part after "point". A phrase that could be two numbers is refused, and so is any
phrase with a word that is no number. A correction ("fifty, no, one five") replaces
what was said before it. Read back digit by digit: "fifteen" and "fifty" sound alike, "one five"
and "five zero" do not.
"""

from __future__ import annotations

from dataclasses import dataclass

DIGITS = {
    "zero": 0,
    "oh": 0,
    "one": 1,
    "two": 2,
    "three": 3,
    "four": 4,
    "five": 5,
    "six": 6,
    "seven": 7,
    "eight": 8,
    "nine": 9,
}
TEENS = {
    "ten": 10,
    "eleven": 11,
    "twelve": 12,
    "thirteen": 13,
    "fourteen": 14,
    "fifteen": 15,
    "sixteen": 16,
    "seventeen": 17,
    "eighteen": 18,
    "nineteen": 19,
}
TENS = {
    "twenty": 20,
    "thirty": 30,
    "forty": 40,
    "fifty": 50,
    "sixty": 60,
    "seventy": 70,
    "eighty": 80,
    "ninety": 90,
}
CORRECTING = ("no", "correction", "i mean")
_WORDS = {value: word for word, value in DIGITS.items() if word != "oh"}


@dataclass(frozen=True, slots=True)
class Number:
    """A number as said: `text` is its decimal writing ("15", "1.8"); leading zeros are kept."""

    text: str

    @property
    def value(self) -> float:
        """Its value."""
        return float(self.text)

    @property
    def read_back(self) -> str:
        """Digit by digit: "one five", "one point eight"."""
        return " ".join("point" if sign == "." else _WORDS[int(sign)] for sign in self.text)


def parse(phrase: str) -> Number | None:
    """The number of a whole phrase, or None when it is none, or could be more than one."""
    words = _corrected(phrase.lower().replace("-", " ").split())
    whole, point, rest = _split(words)
    if point and not (rest and all(word in DIGITS for word in rest)):
        return None
    text = _whole(whole)
    if text is None:
        return None
    if point:
        text += "." + "".join(str(DIGITS[word]) for word in rest)
    return Number(text)


def parse_within(phrase: str, least: float, most: float) -> Number | None:
    """Like `parse`, and None outside `least` to `most` (both allowed)."""
    number = parse(phrase)
    return number if number is not None and least <= number.value <= most else None


def _corrected(words: list[str]) -> list[str]:
    """What stands after the last correcting word; everything when there is none."""
    joined = f" {' '.join(words)} "
    for sign in CORRECTING:
        if f" {sign} " in joined:
            joined = f" {joined.rsplit(f' {sign} ', 1)[1].strip()} "
    return joined.split()


def _split(words: list[str]) -> tuple[list[str], bool, list[str]]:
    if words.count("point") != 1:
        return words, False, []
    at = words.index("point")
    return words[:at], True, words[at + 1 :]


def _whole(words: list[str]) -> str | None:
    """Decimal writing of the words before a point, or None."""
    if not words:
        return None
    if all(word in DIGITS for word in words):
        return "".join(str(DIGITS[word]) for word in words) if len(words) <= 6 else None
    value = _spoken(words)
    return None if value is None else str(value)


def _spoken(words: list[str]) -> int | None:
    """Value of a number in words below a thousand; "three twenty" is no number."""
    if "hundred" in words:
        at = words.index("hundred")
        front, rest = words[:at], words[at + 1 :]
        hundreds = 1 if front == ["a"] else DIGITS.get(front[0], 0) if len(front) == 1 else 0
        if not hundreds:
            return None
        if rest[:1] == ["and"]:
            rest = rest[1:]
            if not rest:
                return None
        tail = _below_hundred(rest) if rest else 0
        return None if tail is None else 100 * hundreds + tail
    return _below_hundred(words)


def _below_hundred(words: list[str]) -> int | None:
    if len(words) == 1:
        word = words[0]
        return DIGITS.get(word, TEENS.get(word, TENS.get(word)))
    if len(words) == 2 and words[0] in TENS and DIGITS.get(words[1], 0):
        return TENS[words[0]] + DIGITS[words[1]]
    return None


def in_words(value: int) -> str:
    """A whole number from 0 to 999 in words: what `parse` reads back to the same value."""
    if not 0 <= value <= 999:
        raise ValueError(f"{value} is outside 0 to 999")
    hundreds, rest = divmod(value, 100)
    said = [f"{_WORDS[hundreds]} hundred"] if hundreds else []
    if hundreds and rest:
        said.append("and")
    if rest or not hundreds:
        small = {**_WORDS, **{number: word for word, number in TEENS.items()}}
        tens = {number: word for word, number in TENS.items()}
        if rest in small:
            said.append(small[rest])
        else:
            said.append(tens[rest // 10 * 10])
            said += [_WORDS[rest % 10]] if rest % 10 else []
    return " ".join(said)
