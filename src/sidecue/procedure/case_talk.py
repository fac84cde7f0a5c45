"""Setting up a case by voice, as data: what is asked, and every value that may be said for it.

Phrases and prompts are in `data/case_talk.yaml`; teeth, surfaces, numbers and anaesthetics are
made from clinical data and the practice's own list.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import combinations
from typing import Any

import yaml

from sidecue.clinical.isolation import CLAMP_NUMBERS
from sidecue.clinical.surfaces import Surface, parse_surfaces, written
from sidecue.clinical.teeth import ALL_TEETH, DIGIT_WORDS, Notation, Tooth
from sidecue.clinical.tooth_reading import parse_tooth
from sidecue.procedure.plan import Cue, Tier
from sidecue.procedure.practice import Practice
from sidecue.procedure.slots import depth_values, digits_said, weight_values

#: A case needs these; everything else may stay open.
NEEDED = ("tooth", "surfaces", "material", "isolation")
#: The entry that no visit begins without an answer to, if only that there are none.
WARNINGS = "flags"
_OLDEST = 110
_MOST_SURFACES = 5

Entry = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Choice:
    """One value of an item: as a case file has it, its cue, and how it is read back. `short` is
    the value alone, enough after "no" while another one is read back."""

    value: str | float | bool
    cue: Cue
    say: str
    short: str = ""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that is asked for. `made` in code; `many` may hold several values."""

    entry: str
    ask: str
    change: Cue
    choices: tuple[Choice, ...] = ()
    made: bool = False
    many: bool = False
    may_stay_open: bool = False
    only_asked: bool = False  # asked only when an open question, or a person, wants it
    asked_when: tuple[tuple[str, tuple[str, ...]], ...] = ()  # entries, with one of these values
    enough: Cue | None = None  # ends a list

    def wanted(self, known: Entry) -> bool:
        """Return whether the case so far is one that this is asked of."""
        asked = self.asked_when
        return not self.only_asked and all(known.get(name) in values for name, values in asked)


@dataclass(frozen=True, slots=True)
class CaseTalk:
    """Everything that may be asked and said in one practice while a case is set up."""

    items: tuple[Item, ...]
    answers: Mapping[str, str]  # how a question's id begins -> entry that answers it
    cues: tuple[Cue, ...]
    prompts: Mapping[str, str]
    notation: Notation
    anaesthetics: tuple[tuple[str, str], ...]  # id of the solution, how it is said

    def item(self, entry: str) -> Item:
        """Return the item of a case file's key."""
        return next(item for item in self.items if item.entry == entry)

    def cue(self, identifier: str) -> Cue:
        """Return one of the cues that may be said besides values."""
        return next(cue for cue in self.cues if cue.id == identifier)

    def choices(self, entry: str, known: Entry) -> tuple[Choice, ...]:
        """Return what may be said for an item of the case `known` so far; the surfaces need a
        tooth."""
        match entry:
            case "tooth":
                return _teeth(self.notation)
            case "surfaces":
                tooth = self.tooth(known)
                return () if tooth is None else _surfaces(tooth)
            case "depth-mm":
                return _numbers("depth-mm", _depths())
            case "weight-kg":
                return _numbers("weight-kg", _weights())
            case "age-years":
                return _ages()
            case "anaesthetic":
                return _anaesthetics(self.anaesthetics)
            case "missing":
                treated = self.tooth(known)
                return tuple(
                    choice
                    for tooth, choice in zip(ALL_TEETH, _missing(self.notation), strict=True)
                    if tooth != treated
                )
            case "clamp":
                return _clamps()
            case "tip-distance-mm":
                return _numbers("tip-distance-mm", _distances())
        return self.item(entry).choices

    def tooth(self, known: Entry) -> Tooth | None:
        """Return the tooth of the case so far, None when there is none that can be read."""
        try:
            return parse_tooth(str(known.get("tooth", "")), self.notation)
        except ValueError:
            return None

    def said(self, entry: str, known: Entry) -> str:
        """Return the value of an item as it is read back; empty when it has none."""
        value = known.get(entry)
        values = value if isinstance(value, list) else [value]
        words = {_plain(each.value): each.say for each in self.choices(entry, known)}
        told = [words.get(_plain(each), str(each)) for each in values if each is not None]
        return ", ".join(told)


@cache
def _data() -> Mapping[str, Any]:
    text = files("sidecue.procedure").joinpath("data/case_talk.yaml").read_text("utf-8")
    data: Mapping[str, Any] = yaml.safe_load(text)
    return data


def case_talk(practice: Practice) -> CaseTalk:
    """Return what may be asked and said in `practice`."""
    data = _data()
    cues = tuple(
        Cue(raw["cue"], tuple(raw["phrases"]), Tier(raw["tier"]), raw["means"])
        for raw in data["cues"]
    )
    return CaseTalk(
        items=tuple(_item(raw) for raw in data["items"]),
        answers=data["answers"],
        cues=cues,
        prompts=data["prompts"],
        notation=Notation(practice.notation or Notation.ISO),
        anaesthetics=tuple((each.id, each.spoken) for each in practice.anaesthetics),
    )


def _item(raw: Mapping[str, Any]) -> Item:
    entry = raw["entry"]
    means = f"Asks again: {entry.replace('-', ' ')}."
    choices = (
        _choice(entry, each["value"], tuple(each["phrases"]), each["say"])
        for each in raw.get("values", ())
    )
    return Item(
        entry=entry,
        ask=raw["ask"],
        change=Cue(f"setup.change.{entry}", tuple(raw["change"]), Tier.ADVANCE, means),
        choices=tuple(choices),
        made=raw.get("made", False),
        many=raw.get("many", False),
        may_stay_open=raw.get("may-stay-open", False),
        only_asked=raw.get("only-asked", False),
        asked_when=tuple((key, tuple(values)) for key, values in raw.get("asked-when", {}).items()),
        enough=Cue("setup.enough", tuple(raw["enough"]), Tier.ADVANCE, "Goes on.")
        if "enough" in raw
        else None,
    )


def _choice(
    entry: str, value: str | float | bool, phrases: tuple[str, ...], say: str, short: str = ""
) -> Choice:
    means = f"Enters, once confirmed: {say}."
    return Choice(
        value, Cue(f"setup.{entry}.{_plain(value)}", phrases, Tier.GUARDED, means), say, short
    )


def _plain(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    return f"{value:g}" if isinstance(value, int | float) else str(value)


@cache
def _teeth(notation: Notation) -> tuple[Choice, ...]:
    return _every_tooth("tooth", notation, "tooth number {}", "patient's {}", "Tooth {}")


@cache
def _missing(notation: Notation) -> tuple[Choice, ...]:
    return _every_tooth("missing", notation, "missing tooth {}", "missing {}", "Missing tooth {}")


def _every_tooth(
    entry: str, notation: Notation, by_number: str, by_name: str, said: str
) -> tuple[Choice, ...]:
    """Return a choice for each tooth of ALL_TEETH, in their order."""

    def one(tooth: Tooth) -> Choice:
        number = tooth.spoken_in(notation)
        phrases = (by_number.format(number), by_name.format(tooth.name))
        told = f"{said.format(number)}. Patient's {tooth.name}"
        return _choice(entry, tooth.written_in(notation), phrases, told, number)

    return tuple(one(tooth) for tooth in ALL_TEETH)


@cache
def _clamps() -> tuple[Choice, ...]:
    """Return every clamp number of the tables, its digits and letter said singly."""

    def one(number: str) -> Choice:
        signs = (DIGIT_WORDS[int(each)] if each.isdigit() else each.lower() for each in number)
        words = " ".join(signs)
        return _choice("clamp", number, (f"clamp number {words}",), f"Clamp number {words}", words)

    return tuple(one(number) for numbers in CLAMP_NUMBERS.values() for number in numbers)


@cache
def _surfaces(tooth: Tooth) -> tuple[Choice, ...]:
    """Return every set of surfaces of the tooth, said in the order they are written; two of them
    in either order."""
    back = Surface.LINGUAL if tooth.arch == "lower" else Surface.PALATAL
    own = (
        (Surface.MESIAL, Surface.OCCLUSAL, Surface.DISTAL, Surface.BUCCAL, back)
        if tooth.posterior
        else (Surface.MESIAL, Surface.INCISAL, Surface.DISTAL, Surface.FACIAL, back)
    )
    found = []
    for count in range(1, _MOST_SURFACES + 1):
        for chosen in combinations(own, count):
            covered = parse_surfaces(tooth, written(chosen))
            orders = (covered, covered[::-1]) if count == 2 else (covered,)
            words = [" ".join(surface.value for surface in each) for each in orders]
            phrases = tuple(f"surfaces {each}" for each in words)
            say = f"Surfaces {words[0]}"
            found.append(_choice("surfaces", written(covered), phrases, say, words[0]))
    return tuple(found)


def _numbers(entry: str, numbers: Iterable[tuple[float, str, str, str]]) -> tuple[Choice, ...]:
    return tuple(
        _choice(entry, value, (phrase,), say, short) for value, phrase, say, short in numbers
    )


def _depths() -> Iterable[tuple[float, str, str, str]]:
    for each in depth_values():
        yield float(each.value), each.cue.phrases[0], each.say, each.short


def _distances() -> Iterable[tuple[float, str, str, str]]:
    for value, phrase, say, short in _depths():
        told = say.replace("Depth", "Light distance")
        yield value, phrase.replace("depth", "light distance"), told, short


def _weights() -> Iterable[tuple[float, str, str, str]]:
    for each in weight_values():
        yield float(each.value), each.cue.phrases[0], each.say, each.short


@cache
def _ages() -> tuple[Choice, ...]:
    def one(years: int) -> Choice:
        words = digits_said(years)
        unit = "year" if years == 1 else "years"
        phrase = f"age {words} {unit}"
        return _choice("age-years", float(years), (phrase,), f"Age {years} {unit}", words)

    return tuple(one(years) for years in range(1, _OLDEST + 1))


@cache
def _anaesthetics(solutions: tuple[tuple[str, str], ...]) -> tuple[Choice, ...]:
    none = _choice("anaesthetic", "none", ("no local anaesthetic",), "No local anaesthetic")
    return (
        none,
        *(
            _choice("anaesthetic", name, (f"numb with {spoken}",), f"Local anaesthetic {spoken}")
            for name, spoken in solutions
        ),
    )


def near_misses(choices: Iterable[Choice]) -> tuple[str, ...]:
    """Return decoys: teens and tens, which sound near digits said singly."""
    shapes = {
        "tooth": "tooth number {}",
        "missing": "missing tooth {}",
        "clamp": "clamp number {}",
        "depth-mm": "depth {} millimetres",
        "tip-distance-mm": "light distance {} millimetres",
        "age-years": "age {} years",
        "weight-kg": "weight {} kilos",
    }
    entries = dict.fromkeys(each.cue.id.split(".")[1] for each in choices)
    words = ("thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
             "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety")  # fmt: skip
    return tuple(shapes[name].format(word) for name in entries if name in shapes for word in words)
