"""How a prompt is read out: words at speaking rate, numbers slower and set apart."""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import groupby

_SMALL = r"zero|one|two|three|four|five|six|seven|eight|nine|half|point|hundred"
_FIGURE = re.compile(r"\d[\d.,:/]*%?$")
_NUMBER = re.compile(
    rf"(?:{_SMALL}|ten|eleven|twelve|(?:thir|four|fif|six|seven|eigh|nine)teen"
    r"|(?:twen|thir|for|fif|six|seven|eigh|nine)ty)$",
    re.IGNORECASE,
)
_SMALL_ALONE = re.compile(rf"(?:{_SMALL})$", re.IGNORECASE)
_UNIT = re.compile(r"(?:second|minute|hour|millimetre|millilitre|percent|kilogram|times?)s?$")


@dataclass(frozen=True, slots=True)
class Run:
    """Words read at one rate. A `value` is read slower."""

    text: str
    value: bool


def runs(text: str) -> tuple[Run, ...]:
    """Split `text` where a value begins and ends. Words and their order are kept.

    A value is figures, a number word from ten up, a small one before a unit, or several
    together ("four six"). A lone small one among words ("tie one knot") is read as a word.
    """
    words = text.split()
    value = [False] * len(words)
    bare = [word.strip(".,;:!?").lower() for word in words]
    numbers = [bool(_FIGURE.match(word) or _NUMBER.match(word)) for word in bare]
    for number, group in groupby(range(len(words)), key=numbers.__getitem__):
        where = list(group)
        after = bare[where[-1] + 1] if where[-1] + 1 < len(words) else ""
        lone_small = len(where) == 1 and _SMALL_ALONE.match(bare[where[0]])
        if number and (not lone_small or _UNIT.match(after)):
            for place in where:
                value[place] = True
    return tuple(
        Run(" ".join(words[place] for place in group), is_value)
        for is_value, group in groupby(range(len(words)), key=value.__getitem__)
    )
