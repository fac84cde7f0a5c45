"""How words are expected to sound: the recogniser's lexicon, read without loading the engine."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache, lru_cache
from pathlib import Path

from pocketsphinx import get_model_path

from sidecue.hearing.pronouncing import inflected, trade_words

Phones = tuple[str, ...]


class Lexicon:
    """Every pronunciation of every word PocketSphinx will know, `added` ones first.

    `added` are (word, phones with spaces between), such as a plan's or a practice's own.
    """

    def __init__(self, added: Iterable[tuple[str, str]] = ()) -> None:
        self._own: dict[str, tuple[Phones, ...]] = {}
        for word, phones in (*added, *trade_words()):
            spelled = tuple(phones.split())
            known = self._own.get(word, ())
            if spelled not in known:
                self._own[word] = (*known, spelled)

    def spell(self, word: str) -> tuple[Phones, ...]:
        """Return the pronunciations of `word`, the usual one first; empty for an unknown word."""
        found = self._own.get(word, ()) + tuple(
            each for each in _shipped(word) if each not in self._own.get(word, ())
        )
        if not found:
            grown = inflected(word, self._usual)
            found = self._own[word] = (grown,) if grown else ()
        return found

    def _usual(self, word: str) -> Phones:
        return next(iter(self._own.get(word, ()) or _shipped(word)), ())


@lru_cache(maxsize=4096)
def _shipped(word: str) -> tuple[Phones, ...]:
    """How PocketSphinx's own lexicon spells `word`: an entry a line, other ways right after it."""
    entries = _entries()
    found: list[Phones] = []
    at = entries.find(f"\n{word} ", *_where(word[:1]))
    while at >= 0:
        end = entries.find("\n", at + 1)
        found.append(tuple(entries[at:end].split()[1:]))
        at = end if entries.startswith(f"\n{word}(", end) else -1
    return tuple(found)


@cache
def _where(letter: str) -> tuple[int, int]:
    """From which place in the entries to which the words that begin with `letter` stand."""
    entries = _entries()
    last = entries.rfind(f"\n{letter}")
    return max(0, entries.find(f"\n{letter}")), entries.find("\n", last + 1)


@cache
def _entries() -> str:
    """The whole lexicon as one text: word by word it would take ten times the memory."""
    return f"\n{Path(get_model_path('en-us/cmudict-en-us.dict')).read_text('utf-8').strip()}\n"
