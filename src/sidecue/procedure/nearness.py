"""Vocabulary lint: cues that may be said at the same moment must not sound alike.

Whoever knows an engine lends `spell`, its lexicon; whoever knows the machine lends the situations:
which cues are active together. Values of one slot are let be: numbers are near each other by
nature, so every value is read back and counts only after a different word.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from sidecue.procedure.phones import Phones, distances, syllables
from sidecue.procedure.plan import Cue

#: Cues active together are at least this far apart (see `phones.distance`).
LEAST_APART = 0.45
#: More than this share of a phrase's phones, from its start, is not shared with another cue.
MOST_SHARED = 0.5
LEAST_SYLLABLES = 2
LEAST_PHONES = 5

#: Every pronunciation of a word, the usual one first; empty for an unknown word.
Spell = Callable[[str], tuple[Phones, ...]]
_VALUE = "set."


class Kind(StrEnum):
    """What is wrong with a phrase, or with two."""

    SHORT = "short"
    SAME = "same"  # spelled differently, sounding the same
    BEGINS = "begins"  # one phrase is how the other begins
    SHARED = "shared"  # more than half of its phones is how the other begins
    NEAR = "near"


@dataclass(frozen=True, slots=True)
class Phrase:
    """A phrase of a cue, and the file it is in."""

    text: str
    cue: str
    file: str

    def __str__(self) -> str:
        return f'"{self.text}" ({self.cue})'


@dataclass(frozen=True, slots=True)
class Trap:
    """A fault of one phrase, or of two that may be said at the same moment."""

    kind: Kind
    one: Phrase
    other: Phrase | None
    apart: float  # 0 to 1; 1 where there is no other
    mend: str
    moment: str = ""  # where both may be said

    def __str__(self) -> str:
        if self.other is None:
            return (
                f"{self.one.file}: {self.one}: under {LEAST_SYLLABLES} syllables and "
                f"{LEAST_PHONES} phones: {self.mend}"
            )
        what = {
            Kind.SAME: "sound the same",
            Kind.BEGINS: "one begins with the other",
            Kind.SHARED: "begin alike for over half of one",
            Kind.NEAR: f"under {LEAST_APART}",
        }[self.kind]
        return (
            f"{self.one.file}: {self.one} and {self.other}, both heard at {self.moment}: "
            f"{self.apart:.2f} apart, {what}: {self.mend}"
        )


@dataclass(frozen=True, slots=True)
class Lint:
    """What the lint found in some plans, and how much it looked at."""

    traps: tuple[Trap, ...]
    excepted: tuple[Trap, ...]  # those the files give a reason for
    homophones: tuple[tuple[str, ...], ...]  # words of cues that sound the same
    pairs: int  # pairs of phrases active together that were compared


def spelled(phrase: str, spell: Spell) -> Phones:
    """Return the phones of a phrase in its usual pronunciation, unknown words left out."""
    return tuple(phone for word in phrase.split() for phone in next(iter(spell(word)), ()))


def lint(
    situations: Iterable[tuple[str, Sequence[Cue]]],
    spell: Spell,
    files: Mapping[str, str],
    excepted: Iterable[frozenset[str]] = (),
) -> Lint:
    """Return what is wrong with the cues of `situations` (a name and the cues active then).

    `files` gives the file of each cue id; `excepted` are pairs of phrases that must stay as they
    are. Each fault is told once, with the first moment it was met.
    """
    phrases, moments = _pairs(situations, files)
    spellings = [spelled(phrase.text, spell) for phrase in phrases]
    apart = distances((spellings[one], spellings[other]) for one, other in moments)
    near: dict[int, set[int]] = {}
    faults: list[tuple[Kind, int, int, float, str]] = []
    for ((one, other), moment), value in zip(moments.items(), apart, strict=True):
        kind = _kind(phrases[one], phrases[other], spellings[one], spellings[other], value)
        if kind is not None:
            near.setdefault(one, set()).add(other)
            near.setdefault(other, set()).add(one)
            faults.append((kind, one, other, value, moment))
    traps = [
        Trap(kind, phrases[one], phrases[other], value, _mend(one, other, phrases, near), moment)
        for kind, one, other, value, moment in faults
    ]
    reasoned = set(excepted)
    let_be = [trap for trap in traps if trap.other and {trap.one.text, trap.other.text} in reasoned]
    standing = [trap for trap in traps if trap not in let_be]
    standing += [
        Trap(Kind.SHORT, phrase, None, 1.0, "say it with more words")
        for phrase, phones in zip(phrases, spellings, strict=True)
        if syllables(phones) < LEAST_SYLLABLES and len(phones) < LEAST_PHONES
    ]
    standing.sort(key=lambda trap: (trap.apart, str(trap)))
    return Lint(tuple(standing), tuple(let_be), homophones(phrases, spell), len(moments))


def homophones(phrases: Iterable[Phrase], spell: Spell) -> tuple[tuple[str, ...], ...]:
    """Return the words of `phrases` that are written differently and may sound the same."""
    alike: dict[Phones, set[str]] = {}
    for word in {word for phrase in phrases for word in phrase.text.split()}:
        for phones in spell(word):
            alike.setdefault(phones, set()).add(word)
    return tuple(sorted({tuple(sorted(words)) for words in alike.values() if len(words) > 1}))


def _pairs(
    situations: Iterable[tuple[str, Sequence[Cue]]], files: Mapping[str, str]
) -> tuple[list[Phrase], dict[tuple[int, int], str]]:
    """Return every phrase once, and each pair of them to compare with its first moment."""
    numbers: dict[tuple[str, str], int] = {}
    phrases: list[Phrase] = []
    met: dict[frozenset[int], str] = {}
    for moment, cues in situations:
        here: list[int] = []
        for cue in cues:
            for text in cue.phrases:
                if (cue.id, text) not in numbers:
                    numbers[cue.id, text] = len(phrases)
                    phrases.append(Phrase(text, cue.id, files.get(cue.id, "cues.yaml")))
                here.append(numbers[cue.id, text])
        met.setdefault(frozenset(here), moment)
    number_of = {cue: number for number, cue in enumerate({phrase.cue for phrase in phrases})}
    cue_of = np.array([number_of[phrase.cue] for phrase in phrases])
    value = np.array([phrase.cue.startswith(_VALUE) for phrase in phrases])
    seen: set[int] = set()
    first: dict[tuple[int, int], str] = {}
    for together, moment in met.items():
        some = np.sort(np.fromiter(together, dtype=np.int64))
        one, other = (some[at] for at in np.triu_indices(len(some), k=1))
        apart = (cue_of[one] != cue_of[other]) & ~(value[one] & value[other])
        fresh = set((one * len(phrases) + other)[apart].tolist()) - seen
        seen |= fresh
        first.update((divmod(key, len(phrases)), moment) for key in sorted(fresh))
    return phrases, first


def _kind(one: Phrase, other: Phrase, phones: Phones, others: Phones, apart: float) -> Kind | None:
    if not phones or not others:
        return None
    if phones == others:
        return Kind.SAME
    shorter, longer = sorted((one.text, other.text), key=len)
    if longer.startswith(shorter + " "):
        return Kind.BEGINS
    shared = 0
    while shared < min(len(phones), len(others)) and phones[shared] == others[shared]:
        shared += 1
    if shared > MOST_SHARED * min(len(phones), len(others)):
        return Kind.SHARED
    return Kind.NEAR if apart < LEAST_APART else None


def _mend(one: int, other: int, phrases: Sequence[Phrase], near: Mapping[int, set[int]]) -> str:
    """Say which of the two may simply go: one whose cue has another phrase that is near none."""
    for at in (one, other):
        if phrases[at].cue.startswith(_VALUE):
            continue
        alternatives = (
            phrase.text
            for number, phrase in enumerate(phrases)
            if phrase.cue == phrases[at].cue and number not in near
        )
        for text in alternatives:
            return f'reword "{phrases[at].text}" or drop it: "{text}" is far enough'
    return "reword one of them"
