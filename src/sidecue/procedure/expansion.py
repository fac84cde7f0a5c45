"""A procedure file with its includes, conditions and repeats becomes one flat list for one case."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sidecue.procedure.interlocks import CaseFacts, matches
from sidecue.procedure.schema import (
    HappeningEntry,
    IncludeEntry,
    Match,
    ProcedureFile,
    StepEntry,
)
from sidecue.procedure.source import Sourced
from sidecue.procedure.words import number_word

Files = Mapping[str, Sourced[ProcedureFile]]


@dataclass(frozen=True, slots=True)
class Expanded:
    """A step in its place: the file it comes from and, in a repeat, the words of its round."""

    part: str
    entry: StepEntry
    round_words: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Expansion:
    """All steps in order, and the happenings of every file that took part, each once."""

    steps: tuple[Expanded, ...]
    happenings: tuple[HappeningEntry, ...]
    repeats: bool  # whether a repeat took part, so that the number of rounds matters


def applies(when: Match, unless: Match, case_facts: CaseFacts) -> bool:
    """Return whether `when` matches the case and `unless`, if it is written, does not."""
    return matches(when.items(), case_facts) and not (
        unless and matches(unless.items(), case_facts)
    )


def expand(files: Files, procedure: str, case_facts: CaseFacts, rounds: int) -> Expansion:
    """Return what `procedure` comes to for a case. Files must be free of include cycles."""
    parts = tuple(dict.fromkeys(_parts(files, procedure, case_facts)))
    steps = tuple(_steps(files, procedure, case_facts, rounds))
    happenings = {
        entry.happening: entry
        for part in parts
        for entry in files[part].model.happenings
        if matches(entry.when.items(), case_facts)
    }
    return Expansion(steps, tuple(happenings.values()), any(step.round_words for step in steps))


def _parts(files: Files, name: str, case_facts: CaseFacts) -> Iterator[str]:
    yield name
    for entry in files[name].model.steps:
        if isinstance(entry, IncludeEntry) and applies(entry.when, entry.unless, case_facts):
            yield from _parts(files, entry.include, case_facts)


def _steps(files: Files, name: str, case_facts: CaseFacts, rounds: int) -> Iterator[Expanded]:
    for entry in files[name].model.steps:
        if not applies(entry.when, entry.unless, case_facts):
            continue
        if isinstance(entry, IncludeEntry):
            yield from _steps(files, entry.include, case_facts, rounds)
        elif isinstance(entry, StepEntry):
            yield Expanded(name, entry, {})
        else:
            for number in range(1, rounds + 1):
                words = round_words(number, rounds)
                for step in entry.steps:
                    now = step.round == "every" or number == rounds
                    if now and applies(step.when, step.unless, case_facts):
                        yield Expanded(name, step, words)


def round_words(number: int, rounds: int) -> dict[str, str]:
    """Return the words of one round of a repeat."""
    return {"n": str(number), "n_word": number_word(number), "of": number_word(rounds)}
