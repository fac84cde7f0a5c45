"""Pronunciations that people added themselves: kept in their data folder, a word each.

They stand beside those of the lexicon and of the procedures, never instead of them: a word may be
said in several ways, and each is heard.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

import yaml
from platformdirs import user_data_path

from sidecue.procedure.phones import known_phones, syllables
from sidecue.procedure.source import Document, Fault, LoadError, read_document
from sidecue.procedure.words import normalise_phrase

Phones = tuple[str, ...]
OwnWords = Mapping[str, tuple[Phones, ...]]

_HEAD = "# Pronunciations added with `sidecue say-word`: a word, then each way of saying it.\n"
_MEND = "mend it, or take it out"


class PronunciationError(Exception):
    """A word or its phones cannot be used; the message says why and how to mend it."""


def own_words_path() -> Path:
    """Return the file that holds them; it need not exist."""
    return user_data_path("sidecue") / "pronunciations.yaml"


def own_words() -> OwnWords:
    """Return every word added, with its pronunciations. Raises LoadError for a damaged file."""
    path = own_words_path()
    if not path.exists():
        return {}
    document = read_document(path)
    words, faults = _words(document)
    if faults:
        raise LoadError(faults)
    return words


def own_pairs() -> tuple[tuple[str, str], ...]:
    """Return (word, phones with spaces between) for each of them. Raises LoadError."""
    return tuple((word, " ".join(ph)) for word, ways in own_words().items() for ph in ways)


def with_way(words: OwnWords, word: str, phones: Phones) -> OwnWords:
    """Return `words` with one more way of saying `word`."""
    return {**words, word: (*words.get(word, ()), phones)}


def keep(words: OwnWords) -> None:
    """Write `words`; a crash leaves the old file or the new one. Raises OSError."""
    path = own_words_path()
    path.parent.mkdir(parents=True, exist_ok=True)
    data = {word: [" ".join(phones) for phones in ways] for word, ways in sorted(words.items())}
    new = path.with_suffix(".new")
    with new.open("w", encoding="utf-8") as out:
        out.write(_HEAD)
        yaml.safe_dump(data, out, sort_keys=False)
        out.flush()
        os.fsync(out.fileno())
    new.replace(path)


def plain_word(text: str) -> str:
    """Return `text` as one word, as the ears compare it. Raises PronunciationError."""
    word = normalise_phrase(text)
    if not word or word != text.strip().lower() or " " in word:
        raise PronunciationError(
            f"{text!r} is not one plain word: give a single word, letters only"
        )
    return word


def phones_of(text: str) -> Phones:
    """Return phones written with spaces between ("D EH N T IY N"); small letters and stress digits
    are let be. Raises PronunciationError."""
    phones = tuple(phone.rstrip("012") for phone in text.upper().split())
    wrong = [phone for phone in phones if phone not in known_phones()]
    if wrong:
        raise PronunciationError(
            f"{wrong[0]!r} is no phone: `sidecue say-word --help` lists them with an example each"
        )
    if not syllables(phones):
        raise PronunciationError(
            f"the phones {' '.join(phones) or 'given'!r} hold no vowel: a word needs one"
        )
    return phones


def respelled(text: str, spell: Callable[[str], tuple[Phones, ...]]) -> Phones:
    """Return the phones of words that together sound like another ("den teen"). `spell` gives the
    pronunciations of a known one. Raises PronunciationError naming a word that is not."""
    phones: list[str] = []
    for word in normalise_phrase(text).split():
        ways = spell(word)
        if not ways:
            raise PronunciationError(
                f"{word!r} is not known either: write it in words that are, or give --phones"
            )
        phones += ways[0]
    return phones_of(" ".join(phones))


def _words(document: Document) -> tuple[dict[str, tuple[Phones, ...]], list[Fault]]:
    data, faults = document.data, list[Fault]()
    if not isinstance(data, dict):
        return {}, [document.fault((), "this is no list of words", 'write "word: [PH ON EH S]"')]
    words: dict[str, tuple[Phones, ...]] = {}
    for word, ways in data.items():
        given: Sequence[object] = ways if isinstance(ways, list) else [ways]
        for way in given:
            try:
                named = plain_word(str(word))
                phones = phones_of(way if isinstance(way, str) else "")
            except PronunciationError as error:
                what = str(error).split(": ", 1)[0]
                faults.append(document.fault((word,), what, _MEND))
            else:
                words[named] = (*words.get(named, ()), phones)
    return words, faults
