"""From a vocabulary to the word paths an engine may decode. Pure."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from sidecue.hearing.port import Vocabulary
from sidecue.procedure.plan import Cue


@dataclass(frozen=True, slots=True)
class Path:
    """One thing that may be decoded. `cue` is None for a decoy; `addressed` with the address."""

    phrase: str  # without the address
    cue: Cue | None
    addressed: bool


@dataclass(frozen=True, slots=True)
class Grammar:
    """All paths of a moment, keyed by the whole spoken text. Hashable, so it can be cached."""

    address: str
    paths: tuple[tuple[str, Path], ...]

    def find(self, spoken: str) -> Path | None:
        """The path whose whole text is `spoken`, or None. Never a part, never corrected."""
        for text, path in self.paths:
            if text == spoken:
                return path
        return None

    def extends(self, spoken: str) -> bool:
        """True when a longer active cue begins with `spoken`."""
        return any(text.startswith(spoken + " ") and path.cue for text, path in self.paths)

    @property
    def words(self) -> frozenset[str]:
        """Every word on any path."""
        return frozenset(word for text, _ in self.paths for word in text.split())


def active_cues(vocabulary: Vocabulary) -> tuple[Cue, ...]:
    """The cues that count now: stops and alarms alone while the tool itself speaks."""
    if vocabulary.stop_only:
        return tuple(cue for cue in vocabulary.cues if cue.tier.always)
    return vocabulary.cues


def grammar_of(vocabulary: Vocabulary) -> Grammar:
    """Lay out the paths.

    An addressed form exists for every active cue. A bare form exists for every cue too, because
    a talker may forget the address and must not be misheard for it, but it carries the cue only
    where it counts: stops and alarms always, the others when `bare`. Cues silenced for the moment
    stay as decoys, and a decoy never displaces a cue of the same words.
    """
    paths: dict[str, Path] = {}
    active = active_cues(vocabulary)
    for cue in active:
        for phrase in cue.phrases:
            bare_counts = vocabulary.bare or cue.tier.always
            paths[f"{vocabulary.address} {phrase}"] = Path(phrase, cue, addressed=True)
            paths[phrase] = Path(phrase, cue if bare_counts else None, addressed=False)
    silenced = [cue for cue in (*vocabulary.cues, *vocabulary.idle) if cue not in active]
    others = [phrase for cue in silenced for phrase in cue.phrases]
    for phrase in (*others, *vocabulary.decoys):
        addressed = f"{vocabulary.address} {phrase}"
        paths.setdefault(addressed, Path(phrase, None, addressed=True))
        paths.setdefault(phrase, Path(phrase, None, addressed=False))
    return Grammar(vocabulary.address, tuple(sorted(paths.items(), key=lambda item: item[0])))


Phones = Callable[[str], tuple[str, ...]]


def focused(grammar: Grammar, phones_of: Phones, decoys: int) -> Grammar:
    """Keep every path of an active phrase, and the `decoys` other paths that sound nearest.

    A decoy only helps where it is close to a cue; each costs decoding time.
    """
    phrases = {path.phrase for _, path in grammar.paths if path.cue is not None}
    targets: dict[bool, set[frozenset[tuple[str, ...]]]] = {True: set(), False: set()}
    for _, path in grammar.paths:
        if path.cue is not None:
            targets[path.addressed].add(_runs(_spelled(path.phrase, phones_of)))
    kept, ranked = [], []
    for text, path in grammar.paths:
        if path.phrase in phrases:
            kept.append((text, path))
        elif aims := targets[path.addressed]:
            runs = _runs(_spelled(path.phrase, phones_of))
            ranked.append((-max(len(runs & aim) / len(runs | aim) for aim in aims), text, path))
    ranked.sort(key=lambda entry: entry[:2])
    kept += [(text, path) for _, text, path in ranked[:decoys]]
    return Grammar(grammar.address, tuple(sorted(kept, key=lambda entry: entry[0])))


@lru_cache(maxsize=10_000)
def _runs(phones: tuple[str, ...]) -> frozenset[tuple[str, ...]]:
    """The phones of a phrase and its pairs of neighbours: a quick measure of likeness."""
    return frozenset([*((phone,) for phone in phones), *pairwise(phones)])


def _spelled(phrase: str, phones_of: Phones) -> tuple[str, ...]:
    return tuple(phone for word in phrase.split() for phone in phones_of(word))
