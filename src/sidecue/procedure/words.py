"""Words in braces: the closed list that prompts and phrases may use, and filling them in.

At loading each placeholder counts as its longest filling, so that a prompt that passes there stays
within eight words for every tooth.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

MOST_WORDS = 8

#: Placeholder: the most words it can become.
PLACEHOLDERS: Mapping[str, int] = {
    "tooth": 5,  # "lower right primary second molar"
    "tooth_digits": 2,  # "four six", "three zero", "letter a"
    "surfaces": 5,  # "mesial occlusal distal"
    "class": 2,  # "class two"
    "material": 4,  # "resin modified glass ionomer"
    "anchor": 2,  # the tooth that carries the clamp, "four seven"
    "clamp": 1,  # the clamp's family, "molar"
    "teeth": 1,  # how many teeth come through the dam, "seven"
    "band": 1,  # "straight"
    "retainer_side": 1,  # "buccal"
    "wedges": 2,  # "two wedges"
    "wedge_side": 1,  # "lingual"
    "the_wedges": 2,  # "the wedge", "both wedges"
    "sections": 2,  # "the section", "both sections"
    "rings": 2,  # "the ring", "both rings"
    "box_walls": 2,  # "box wall", "both walls"
    "facial_side": 1,  # "buccal", "labial" in front
    "edge": 1,  # what the crown ends in: "occlusal", "incisal" in front
    "counted": 7,  # "rolls, screen, ring, wedge, section and needle"
    "spills": 4,  # "two and one spills"
    "n": 1,  # the round of a repeat, "2"
    "n_word": 1,  # "two"
    "of": 1,  # how many rounds, "three"
}

#: Only these stand inside ids; they make an id unique in each round of a repeat.
ID_PLACEHOLDERS = frozenset({"n"})
REPEAT_PLACEHOLDERS = frozenset({"n", "n_word", "of"})

_BRACES = re.compile(r"\{([^{}]*)\}")
_SPOKEN = re.compile(r"[a-z]+('[a-z]+)*")

NUMBER_WORDS = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen",
    "nineteen", "twenty",
)  # fmt: skip
MOST_ROUNDS = len(NUMBER_WORDS) - 1  # of a repeat: each is told in words


def placeholders(text: str) -> tuple[str, ...]:
    """Return the names in braces, in order."""
    return tuple(_BRACES.findall(text))


def longest(text: str) -> int:
    """Return the most words `text` can have once filled in."""
    return len(
        _BRACES.sub(lambda found: "x" + " x" * (PLACEHOLDERS.get(found[1], 1) - 1), text).split()
    )


def fill(text: str, words: Mapping[str, str]) -> str:
    """Return `text` with every word in braces filled in. Raises KeyError for one not in `words`."""
    return _BRACES.sub(lambda found: words[found[1]], text) if "{" in text else text


def unknown_placeholders(text: str, repeated: bool) -> tuple[str, ...]:
    """Return the names in braces that may not stand in `text`; rounds only count in a repeat."""
    allowed = set(PLACEHOLDERS) if repeated else set(PLACEHOLDERS) - REPEAT_PLACEHOLDERS
    return tuple(name for name in placeholders(text) if name not in allowed)


def unpaired(text: str) -> bool:
    """Return whether a brace stands alone."""
    rest = _BRACES.sub("", text)
    return "{" in rest or "}" in rest


def speakable(phrase: str) -> bool:
    """Return whether a phrase, words in braces aside, is made of plain words."""
    words = _BRACES.sub("a", phrase).split()
    return bool(words) and all(_SPOKEN.fullmatch(word) for word in words)


def normalise_phrase(phrase: str) -> str:
    """Return a phrase as the recogniser compares it: lower case, single spaces, no punctuation."""
    return " ".join(re.sub(r"[^a-z' ]+", " ", phrase.lower()).split())


def number_word(number: int) -> str:
    """Return a small whole number in words. Raises ValueError above twenty."""
    if not 0 <= number < len(NUMBER_WORDS):
        raise ValueError(f"{number} is not between 0 and 20")
    return NUMBER_WORDS[number]
