"""What a practice's file lists to be said: anaesthetic solutions, and shades."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator

from sidecue.clinical.anaesthetic import SOLUTIONS, cartridge
from sidecue.clinical.anaesthetic import Solution as Content
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.shade import spoken_shade, written_shade
from sidecue.procedure.plan import Solution
from sidecue.procedure.reading import suggest
from sidecue.procedure.schema import PracticeFile
from sidecue.procedure.source import Fault, Place, Sourced
from sidecue.procedure.words import speakable

#: Dilutions as they are said, by what is one in how many.
_DILUTIONS = {
    20_000: "twenty thousand",
    50_000: "fifty thousand",
    80_000: "eighty thousand",
    100_000: "one hundred thousand",
    200_000: "two hundred thousand",
}


def drawer(source: Sourced[PracticeFile]) -> tuple[tuple[Solution, ...], list[Fault]]:
    """Return the solutions a practice's file lists, and the faults of those that cannot be."""
    faults: list[Fault] = []
    entries = source.model.anaesthetics
    drugs = Counter(
        SOLUTIONS[entry.solution].drug for entry in entries if entry.solution in SOLUTIONS
    )
    solutions: dict[str, Solution] = {}
    said: set[str] = set()
    for number, entry in enumerate(entries):
        place: Place = ("anaesthetics", number)

        def bad(key: str, what: str, mend: str, place: Place = place) -> None:
            faults.append(source.document.fault((*place, key), what, mend))

        content = SOLUTIONS.get(entry.solution)
        if content is None:
            bad("solution", f"unknown solution {entry.solution!r}",
                suggest(entry.solution, SOLUTIONS))  # fmt: skip
            continue
        try:
            cartridge(entry.cartridge_ml)
        except ClinicalError as error:
            bad("cartridge-ml", f"{error.what}, {error.why}", f"write {error.mend}")
        spoken = entry.spoken or _spoken(content, alone=drugs[content.drug] == 1)
        if not speakable(spoken) or "{" in spoken:
            bad("spoken", f"{spoken!r} cannot be spoken", "use plain words")
        if content.id in solutions or spoken in said:
            bad("solution", f"{spoken!r} is there twice", "give each solution words of its own")
        said.add(spoken)
        solutions[content.id] = Solution(content.id, spoken, entry.cartridge_ml)
    return tuple(solutions.values()), faults


def shade_faults(source: Sourced[PracticeFile]) -> Iterator[Fault]:
    """Yield every shade name that cannot be read out."""
    for number, entry in enumerate(source.model.materials):
        for index, shade in enumerate(entry.shades):
            try:
                shade_words(shade)
            except ClinicalError as error:
                place = ("materials", number, "shades", index)
                what = f"{error.what} is {error.why}"
                yield source.document.fault(place, what, f"write {error.mend}")


def shade_words(shade: str) -> tuple[str, str]:
    """Return a shade as it is recorded, and the phrase that says it.

    A code such as A3.5 is said sign by sign, a name in words as it is. Raises ClinicalError for
    what is neither.
    """
    if re.fullmatch(r"[A-Za-z]{2,}( [A-Za-z]+)*", shade):
        words = shade.lower()
        return words, words if "shade" in words.split() else f"shade {words}"
    name = written_shade(shade)
    return name, f"shade {spoken_shade(name)}"


def _spoken(content: Content, *, alone: bool) -> str:
    """Return the drug, and what tells it from another solution of the same drug."""
    if alone:
        return content.drug.value
    if content.one_in is None:
        return f"plain {content.drug.value}"
    return f"{content.drug.value} {_DILUTIONS[content.one_in]}"
