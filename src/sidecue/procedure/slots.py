"""What may be said as a value: each slot's finite list of phrases, made from clinical data.

Digits are read singly. A tooth and its surfaces are agreed, never chosen: saying other ones is
refused and changes nothing. A weight the case already has is not asked for again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from functools import cache

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.quantity import exact, plain
from sidecue.clinical.surfaces import Surface, parse_surfaces
from sidecue.clinical.teeth import (
    DIGIT_WORDS,
    PERMANENT_TEETH,
    PRIMARY_TEETH,
    Notation,
    Tooth,
)
from sidecue.procedure.case import Case
from sidecue.procedure.case_facts import case_facts
from sidecue.procedure.drawer import shade_words
from sidecue.procedure.plan import (
    AnaestheticCount,
    Cue,
    Slot,
    SlotValue,
    Solution,
    Tier,
)
from sidecue.procedure.practice import Practice

CARTRIDGES = "cartridges"
WEIGHT = "weight"

#: Kilograms that can be said, by whole ones; a child's and a grown person's range.
_CHILD_KG = range(3, 81)
_ADULT_KG = range(30, 151)
_ANY_KG = range(3, 151)
_CHILD_BELOW, _ADULT_FROM = 12.0, 18.0
#: Millimetres of a cavity that can be said, by halves.
_DEPTHS = tuple(Fraction(halves, 2) for halves in range(2, 17))
#: Cartridges in one entry, by halves: phrase with the solution in it, and the read-back.
_CARTRIDGES = {
    1: ("half a cartridge {}", "Half a cartridge {}", True),
    2: ("one cartridge {}", "One cartridge {}", True),
    3: ("one and a half cartridges {}", "One and a half cartridges {}", False),
    4: ("two cartridges {}", "Two cartridges {}", False),
}
_TEENS = ("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen")
_TENS = ("thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")


def digits_said(number: Fraction | int) -> str:
    """Return a number with its digits read singly: 70 is `seven zero`, 4.5 `four point five`."""
    signs = plain(Fraction(number), places=3)
    return " ".join("point" if sign == "." else DIGIT_WORDS[int(sign)] for sign in signs)


def slots_of(asked: Iterable[str], case: Case, practice: Practice) -> tuple[Slot, ...]:
    """Return the slots among `asked` that have anything to be said in this case, each once."""
    made = (_MAKERS[name](case, practice) for name in dict.fromkeys(asked))
    return tuple(slot for slot in made if slot is not None)


def near_values(slots: Iterable[Slot], practice: Practice) -> tuple[str, ...]:
    """Return decoys: values that sound near those of `slots` and are none of them."""
    found: list[str] = []
    for slot in slots:
        taken = {phrase for value in slot.values for phrase in value.cue.phrases}
        found += [phrase for phrase in _near(slot, practice) if phrase not in taken]
    return tuple(dict.fromkeys(found))


def count_of(case: Case, practice: Practice) -> AnaestheticCount | None:
    """Return what the count of anaesthetic rests on, or None when none is planned or listed."""
    if case.drug is None or not practice.anaesthetics:
        return None
    entry = case.entry
    return AnaestheticCount(
        solutions=practice.anaesthetics,
        rule_set=practice.dose_rules,
        weight_kg=entry.weight_kg,
        age_years=entry.age_years,
        heart_disease="heart" in entry.flags,
        sulfite_allergy="sulfite" in entry.flags,
        methaemoglobinaemia="methaemoglobinaemia" in entry.flags,
        planned=entry.anaesthetic or "",
    )


def _cue(slot: str, value: str, phrases: tuple[str, ...], say: str) -> Cue:
    return Cue(f"set.{slot}.{value}", phrases, Tier.GUARDED, f"records, once confirmed: {say}")


def _value(
    slot: str, value: str, phrase: str, say: str, *, more: str | None = None, short: str = ""
) -> SlotValue:
    phrases = (phrase,) if more is None else (phrase, more)
    return SlotValue(value, _cue(slot, value, phrases, say), say, short=short)


def _tooth(case: Case, _practice: Practice) -> Slot | None:
    return None if case.tooth is None else _tooth_slot(case.tooth, case.notation)


@cache
def _tooth_slot(tooth: Tooth, notation: Notation) -> Slot:
    number = tooth.spoken_in(notation)
    say = f"Tooth {number}"
    right = _value("tooth", tooth.written_in(notation), f"tooth number {number}", say,
                   more=f"patient's {tooth.name}")  # fmt: skip
    others = tuple(
        phrase
        for each in (PRIMARY_TEETH if tooth.primary else PERMANENT_TEETH)
        if each != tooth
        for phrase in (f"tooth number {each.spoken_in(notation)}", f"patient's {each.name}")
    )
    refused = Cue("set.tooth.other", others, Tier.GUARDED, "another tooth: not agreed")
    return Slot("tooth", (right,), expected=say, others=refused, caution="wrong-tooth")


def _surfaces(case: Case, _practice: Practice) -> Slot | None:
    if case.cavity is None:
        return None
    cavity = case.cavity
    say = f"Surfaces {cavity.spoken}"
    right = _value("surfaces", cavity.letters, f"surfaces {cavity.spoken}", say)
    others = tuple(
        f"surfaces {words}"
        for words in _other_surfaces(cavity.tooth, cavity.letters)
        if words != cavity.spoken
    )
    refused = Cue("set.surfaces.other", others, Tier.GUARDED, "other surfaces: not agreed")
    return Slot("surfaces", (right,), expected=say, others=refused, caution="wrong-tooth")


@cache
def _other_surfaces(tooth: Tooth, planned_letters: str) -> tuple[str, ...]:
    """Return the cavities one surface away: one more, one fewer, or one in another's place."""
    planned = frozenset(planned_letters)
    changes: set[frozenset[str]] = {planned - {letter} for letter in planned}
    for extra in (surface.letter for surface in Surface):
        changes.add(planned | {extra})
        changes |= {(planned - {letter}) | {extra} for letter in planned}
    found: set[str] = set()
    for letters in changes:
        try:
            covered = parse_surfaces(tooth, "".join(sorted(letters)))
        except ClinicalError:  # no such surface on this tooth, or none left
            continue
        found.add(" ".join(surface.value for surface in covered))
    return tuple(sorted(found))


def _shade(case: Case, practice: Practice) -> Slot | None:
    material = practice.material(case.entry.material, case_facts(case, practice))
    if material is None or not material.shades:
        return None
    named = dict(shade_words(shade) for shade in material.shades)
    values = (
        _value("shade", name, words, f"Shade {name}", short=words.removeprefix("shade "))
        for name, words in named.items()
    )
    return Slot("shade", tuple(values))


def _weight(case: Case, practice: Practice) -> Slot | None:
    if count_of(case, practice) is None or case.entry.weight_kg is not None:
        return None
    age = case.entry.age_years
    weights = _ANY_KG
    if age is not None and not _CHILD_BELOW <= age < _ADULT_FROM:
        weights = _CHILD_KG if age < _CHILD_BELOW else _ADULT_KG
    return Slot(WEIGHT, tuple(_kilos(kg) for kg in weights))


def weight_values() -> tuple[SlotValue, ...]:
    """Return every weight that can be said, in whole kilograms."""
    return tuple(_kilos(kg) for kg in _ANY_KG)


@cache
def _kilos(kg: int) -> SlotValue:
    words = digits_said(kg)
    return _value(WEIGHT, str(kg), f"weight {words} kilos", f"Weight {kg} kilos", short=words)


def _cartridges(case: Case, practice: Practice) -> Slot | None:
    count = count_of(case, practice)
    if count is None:
        return None
    values = tuple(
        _entry(solution, halves) for solution in count.solutions for halves in _CARTRIDGES
    )
    return Slot(CARTRIDGES, values, many=True)


@cache
def _entry(solution: Solution, halves: int) -> SlotValue:
    phrase, say, topping_up = _CARTRIDGES[halves]
    value = f"{solution.id}:{halves}"
    words, said = phrase.format(solution.spoken), say.format(solution.spoken)
    return SlotValue(value, _cue(CARTRIDGES, value, (words,), said), said, topping_up)


def entry_of(value: str) -> tuple[str, Fraction]:
    """Return the solution's id and the cartridges of a value of the slot `cartridges`."""
    solution, halves = value.rsplit(":", 1)
    return solution, Fraction(int(halves), 2)


def _depth(case: Case, _practice: Practice) -> Slot | None:
    planned = case.entry.depth_mm
    values = depth_values()
    expected = "" if planned is None else _depth_words(exact(planned, "depth"))
    return Slot("depth", values, expected=expected)


@cache
def depth_values() -> tuple[SlotValue, ...]:
    """Return every depth that can be said, in millimetres by halves."""
    return tuple(
        _value(
            "depth",
            plain(mm),
            f"depth {digits_said(mm)} {_millimetres(mm)}",
            _depth_words(mm),
            short=digits_said(mm),
        )
        for mm in _DEPTHS
    )


def _depth_words(mm: Fraction) -> str:
    return f"Depth {plain(mm)} {_millimetres(mm)}"


def _millimetres(mm: Fraction) -> str:
    return "millimetre" if mm == 1 else "millimetres"


def _near(slot: Slot, practice: Practice) -> Iterator[str]:
    """Yield near misses: other members of a family of values, and teens for tens."""
    match slot.id:
        case "shade":
            yield from (f"shade {letter} {n}" for letter in "abcd" for n in DIGIT_WORDS[1:6])
        case "weight":
            yield from (f"weight {words} kilos" for words in (*_TEENS, *_TENS))
        case "depth":
            yield from (f"depth {words} millimetres" for words in (*_TEENS, "forty", "nine"))
        case "cartridges":
            for solution in practice.anaesthetics:
                yield f"three cartridges {solution.spoken}"
                yield f"two and a half cartridges {solution.spoken}"
                yield f"that cartridge {solution.spoken}"
        case "tooth":
            yield from (f"tooth number {words}" for words in (*_TEENS, "twenty", *_TENS[:2]))


_MAKERS: dict[str, Callable[[Case, Practice], Slot | None]] = {
    "tooth": _tooth,
    "surfaces": _surfaces,
    "shade": _shade,
    "weight": _weight,
    "cartridges": _cartridges,
    "depth": _depth,
}
