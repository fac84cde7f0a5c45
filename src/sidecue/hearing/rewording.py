"""Cues that a voice is not heard well with, and which other phrase of theirs it might say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from sidecue.hearing.port import Vocabulary
from sidecue.hearing.tuning import Thresholds, Trial
from sidecue.procedure.nearness import LEAST_APART, Spell, spelled
from sidecue.procedure.phones import distances
from sidecue.procedure.plan import Cue

SHOWN = 2  # phrases that are suggested, at most


@dataclass(frozen=True, slots=True)
class Confusion:
    """A phrase that was not heard well enough, and what might be said instead.

    `better` are phrases of the same cue: `proven` ones were said in the sitting and heard; others
    were not, and are no more than far enough in sound from what else counts at that moment.
    """

    trial: Trial
    better: tuple[str, ...]
    proven: bool


def confused(
    trials: Sequence[Trial],
    moments: Iterable[tuple[Cue, Vocabulary]],
    thresholds: Thresholds,
    spell: Spell,
) -> Iterator[Confusion]:
    """Yield each phrase that was missed or taken for another cue.

    `moments` gives each cue that was tried with what else may be said then.
    """
    known = {cue.id: (cue, moment) for cue, moment in moments}
    heard: dict[str, dict[str, float]] = {}
    for trial in trials:
        if not trial.missed(thresholds):
            scores = heard.setdefault(trial.cue, {})
            scores[trial.phrase] = max(trial.score, scores.get(trial.phrase, 0.0))
    for trial in trials:
        if not trial.missed(thresholds):
            continue
        proven = {
            phrase: score
            for phrase, score in heard.get(trial.cue, {}).items()
            if phrase != trial.phrase
        }
        if proven:
            best = sorted(proven, key=lambda phrase: -proven[phrase])
            yield Confusion(trial, tuple(best[:SHOWN]), proven=True)
            continue
        tried = {each.phrase for each in trials if each.cue == trial.cue}
        cue, moment = known[trial.cue]
        untried = [phrase for phrase in cue.phrases if phrase not in tried]
        far = far_enough(untried, cue, moment, spell)
        yield Confusion(trial, far[:SHOWN], proven=False)


def far_enough(
    phrases: Iterable[str], cue: Cue, moment: Vocabulary, spell: Spell
) -> tuple[str, ...]:
    """Return those of `phrases` of `cue` that are `LEAST_APART` from every other cue's phrase of
    the moment, the farthest first."""
    others = [
        spelled(phrase, spell) for each in moment.cues if each.id != cue.id
        for phrase in each.phrases
    ]  # fmt: skip
    apart = {}
    for phrase in phrases:
        phones = spelled(phrase, spell)
        apart[phrase] = min(distances((phones, other) for other in others), default=1.0)
    far = [phrase for phrase, value in apart.items() if value >= LEAST_APART]
    return tuple(sorted(far, key=lambda phrase: -apart[phrase]))
