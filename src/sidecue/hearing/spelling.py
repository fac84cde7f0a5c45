"""The paths of a moment, spelled in phones and laid out to be scored together."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from functools import cache, lru_cache
from itertools import chain

import numpy as np
import numpy.typing as npt

from sidecue.hearing.ctc import NEVER, Phones, Sheet, lay_out, log_likelihoods
from sidecue.hearing.grammar import Grammar, Path
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.phone_head import BLANK, LogProbabilities
from sidecue.hearing.phones import PHONES
from sidecue.hearing.pronouncing import denials, opposites

WAYS = 6  # of pronouncing one path that are tried
AROUND = 0.05  # other talk before or after a phrase: each of its phones counts against the phrase
PROMISING = 96  # spellings that are scored; the others could not come near
_AT = {phone: at for at, phone in enumerate(PHONES)}


@dataclass(frozen=True, slots=True)
class Spelling:
    """One way to pronounce one path."""

    text: str
    path: Path
    words: tuple[Phones, ...]
    phones: Phones = field(init=False)  # those of its words in a row; asked for again and again

    def __post_init__(self) -> None:
        """Put the words in a row."""
        object.__setattr__(self, "phones", tuple(chain.from_iterable(self.words)))

    def denied(
        self, own: int, lexicon: Lexicon, *, amid: bool = False
    ) -> Iterator[tuple[str, Phones]]:
        """Its opposites: text and phones with a denial before, between or after its words, of
        which the first `own` are the address, and with a word turned into its opposite. `amid`
        other talk, only these: a denial is short, and bits of that talk sound like one."""
        said = self.text.split()
        for at in range(own, len(said) + 1):
            for word, denial in () if amid else _denials():
                yield self._changed(at, at, word, denial)
            for other in opposites().get(said[at], ()) if at < len(said) else ():
                for way in lexicon.spell(other) if other else ((),):
                    yield self._changed(at, at + 1, other, numbered(way))

    def _changed(self, begin: int, end: int, word: str, phones: Phones) -> tuple[str, Phones]:
        said = self.text.split()
        words = (*self.words[:begin], phones, *self.words[end:])
        text = " ".join((*said[:begin], word, *said[end:])).replace("  ", " ").strip()
        return text, tuple(phone for each in words for phone in each)


class Speller:
    """Spellings of every path of a grammar, with what is needed to score them quickly."""

    def __init__(self, grammar: Grammar, lexicon: Lexicon) -> None:
        """Raise ValueError for a cue with a word that has no pronunciation; a decoy with such a
        word is left out."""
        self.lexicon = lexicon
        self.spellings = tuple(
            Spelling(text, path, words)
            for text, path in grammar.paths
            for words in _ways(text, path, lexicon)
        )
        longest = max((len(each.phones) for each in self.spellings), default=0)
        self._phones = np.zeros((len(self.spellings), longest), dtype=np.int64)
        self._real = np.zeros(self._phones.shape, dtype=bool)
        for row, each in enumerate(self.spellings):
            self._phones[row, : len(each.phones)] = each.phones
            self._real[row, : len(each.phones)] = True

    def scored(
        self, logs: LogProbabilities
    ) -> tuple[tuple[Spelling, ...], npt.NDArray[np.float64]]:
        """Return the most promising spellings and the log probability of each, best first.

        A phrase is at most as likely as each of its phones at the best of all frames, and every
        phone that was heard and is none of its own must be passed over: those for which even that
        is poor are not scored.
        """
        if len(logs) == 0 or not self.spellings:
            return (), np.zeros(0)
        ceiling = np.where(self._real, logs.max(axis=0)[self._phones], 0.0).sum(axis=1)
        ceiling += self._passing(logs)
        chosen = np.argsort(-ceiling)[:PROMISING]
        spellings = tuple(self.spellings[at] for at in chosen)
        likely = log_likelihoods(logs, self._sheet(spellings), AROUND)
        order = np.argsort(-likely)
        return tuple(spellings[at] for at in order), likely[order]

    def _passing(self, logs: LogProbabilities) -> npt.NDArray[np.float64]:
        """What it costs at least to pass over phones that a spelling has no place for."""
        best = logs.argmax(axis=1)
        heard = np.flatnonzero((best != BLANK) & (np.roll(best, 1) != best))
        costs = np.sort(np.maximum(logs[heard, BLANK], math.log(AROUND)))[::-1]
        sums = np.concatenate([[0.0], np.cumsum(costs)])
        spare = np.maximum(0, len(heard) - self._real.sum(axis=1))
        return np.asarray(sums[spare])

    @staticmethod
    def _sheet(spellings: Sequence[Spelling]) -> Sheet:
        return lay_out([each.phones for each in spellings])


def numbered(phones: Sequence[str]) -> Phones:
    """Phones by their names as indices into PHONES."""
    return tuple(_AT[phone] for phone in phones)


@cache
def _denials() -> tuple[tuple[str, Phones], ...]:
    return tuple((word, numbered(phones.split())) for word, phones in denials())


def _ways(text: str, path: Path, lexicon: Lexicon) -> tuple[tuple[Phones, ...], ...]:
    found = _spelled(text, lexicon)
    if not found and path.cue is not None:
        lacking = [word for word in text.split() if not lexicon.spell(word)]
        raise ValueError(
            f"cue {path.phrase!r}: no pronunciation for {', '.join(lacking)};"
            " add one or reword the cue"
        )
    return found


@lru_cache(maxsize=5000)
def _spelled(text: str, lexicon: Lexicon) -> tuple[tuple[Phones, ...], ...]:
    """Kept, for moments share most of their phrases."""
    words = [lexicon.spell(word) for word in text.split()]
    if not all(words):
        return ()
    ways = itertools.islice(itertools.product(*words), WAYS)
    return tuple(tuple(numbered(word) for word in way) for way in ways)


__all__ = ["NEVER", "Speller", "Spelling"]
