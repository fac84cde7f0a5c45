"""The words of a plan: what a recogniser must know and a voice must say.

The procedure layer knows no engine; whoever does lends `known`, a look-up in its lexicon.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from sidecue.procedure.plan import Cue, Plan
from sidecue.procedure.words import normalise_phrase

__all__ = ["UnknownWord", "all_cues", "normalise_phrase", "phrases", "unknown_words", "words"]


@dataclass(frozen=True, slots=True)
class UnknownWord:
    """A word of a phrase that a lexicon lacks. `where` is the procedure file or list it is in."""

    word: str
    phrase: str
    where: str

    def __str__(self) -> str:
        return f"{self.where}: {self.phrase!r}: the lexicon lacks {self.word!r}"


def all_cues(plan: Plan) -> Iterator[tuple[str, Cue]]:
    """Yield every cue of a plan with the file or list it comes from."""
    for step in plan.steps:
        if step.begin is not None:
            yield step.part, step.begin
        yield step.part, step.done
    for happening in plan.happenings:
        yield "happenings", happening.cue
    for emergency in plan.emergencies:
        yield "emergencies", emergency.cue
    for slot in plan.slots:
        for value in slot.values:
            yield "values", value.cue
        if slot.others is not None:
            yield "values", slot.others
    for cue in plan.cues:
        yield "cues", cue
    for cue in plan.skip_reasons:
        yield "skip-reasons", cue


def phrases(plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield every phrase that may be heard, normalised, with where it comes from."""
    yield "address", normalise_phrase(plan.address)
    for where, cue in all_cues(plan):
        for phrase in cue.phrases:
            yield where, normalise_phrase(phrase)
    for decoy in plan.decoys:
        yield "decoys", normalise_phrase(decoy)


def words(plan: Plan) -> frozenset[str]:
    """Return every word of every phrase of a plan."""
    return frozenset(word for _, phrase in phrases(plan) for word in phrase.split())


def unknown_words(plan: Plan, known: Callable[[str], bool]) -> tuple[UnknownWord, ...]:
    """Return the words that are neither `known` nor pronounced by the plan, once each."""
    given = {word for word, _ in plan.pronunciations}
    found: dict[str, UnknownWord] = {}
    for where, phrase in phrases(plan):
        for word in phrase.split():
            if word not in given and word not in found and not known(word):
                found[word] = UnknownWord(word, phrase, where)
    return tuple(found.values())
