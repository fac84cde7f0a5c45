"""What the tool says itself, as its own microphone may hear it.

The tool knows the words it is saying. Where a run of them fits a stretch of sound better than the
cue that was found there, nobody gave that cue.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from sidecue.hearing.ctc import Phones
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.numbers import in_words
from sidecue.hearing.spelling import numbered

_WORD = re.compile(r"[a-z]+(?:'[a-z]+)*|\d+")
_MOST_NUMBER = 999  # what `in_words` says
_LIKE = (0.6, 1.6)  # phones of a run, as a share of the cue's: others are heard elsewhere
_STEP = 2  # phones by which one run is longer than the next


def runs(texts: tuple[str, ...], lexicon: Lexicon, phones: int) -> Iterator[tuple[str, Phones]]:
    """Yield every run of phones of `texts` about as long as `phones`, with the words it is of.

    A run may begin and end within a word: what is judged may begin and end anywhere. None goes
    over a word that the lexicon lacks.
    """
    least, most = (max(1, round(share * phones)) for share in _LIKE)
    for text in texts:
        for said in _known(text, lexicon):
            whole = tuple(phone for _, spelled in said for phone in spelled)
            of = [word for word, spelled in said for _ in spelled]
            for first in range(len(whole)):
                for last in range(first + least, min(first + most, len(whole)) + 1, _STEP):
                    yield " ".join(dict.fromkeys(of[first:last])), whole[first:last]


def _known(text: str, lexicon: Lexicon) -> Iterator[list[tuple[str, Phones]]]:
    """Yield the stretches of a text between words that the lexicon lacks, word by word."""
    stretch: list[tuple[str, Phones]] = []
    for word in _words(text):
        ways = lexicon.spell(word)
        if ways:
            stretch.append((word, numbered(ways[0])))
        elif stretch:
            yield stretch
            stretch = []
    if stretch:
        yield stretch


def _words(text: str) -> list[str]:
    found: list[str] = []
    for word in _WORD.findall(text.lower()):
        if word.isdigit():
            found += in_words(int(word)).split() if int(word) <= _MOST_NUMBER else [word]
        else:
            found.append(word)
    return found
