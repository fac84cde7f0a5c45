"""Pronunciations the engine's lexicon lacks: words of the trade, and regular inflections; and words
that deny what they are put into."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from importlib.resources import files

Lookup = Callable[[str], tuple[str, ...]]

_VOICELESS = {"P", "T", "K", "F", "TH", "S", "SH", "CH", "HH"}
_HISSING = {"S", "Z", "SH", "ZH", "CH", "JH"}


@cache
def trade_words() -> tuple[tuple[str, str], ...]:
    """Words of the trade with their phones (ARPAbet, spaces between); a word may come twice."""
    return _listed("pronunciations")


@cache
def denials() -> tuple[tuple[str, str], ...]:
    """Words that turn a cue into its opposite, each with its phones."""
    return _listed("denials")


@cache
def opposites() -> dict[str, tuple[str, ...]]:
    """What turns a cue into its opposite in the place of a word; "" is the word left out."""
    text = files("sidecue.hearing").joinpath("data/opposites.txt").read_text("utf-8")
    found: dict[str, tuple[str, ...]] = {}
    for line in text.splitlines():
        if line.strip() and not line.startswith("#"):
            one, other = line.split()
            found[one] = (*found.get(one, ()), "" if other == "-" else other)
            if other != "-":
                found[other] = (*found.get(other, ()), one)
    return found


def _listed(name: str) -> tuple[tuple[str, str], ...]:
    text = files("sidecue.hearing").joinpath(f"data/{name}.txt").read_text("utf-8")
    lines = [line.split(maxsplit=1) for line in text.splitlines() if line.strip()]
    return tuple((line[0], line[1].strip()) for line in lines if line[0] != "#")


def inflected(word: str, lookup: Lookup) -> tuple[str, ...]:
    """The phones of a regular inflection of a known word (`rinsed` from `rinse`); empty if none.

    `lookup` gives the phones of a known word, empty for an unknown one.
    """
    for ending, grow in (("ed", _past), ("s", _plural), ("ing", _going), ("er", _doer)):
        if not word.endswith(ending) or len(word) < len(ending) + 3:
            continue
        stem = word[: -len(ending)]
        doubled = len(stem) > 2 and stem[-1] == stem[-2]
        for base in (stem, stem + "e", *([stem[:-1]] if doubled else [])):
            phones = lookup(base)
            if phones:
                return grow(phones)
    return ()


def _past(phones: tuple[str, ...]) -> tuple[str, ...]:
    if phones[-1] in ("T", "D"):
        return (*phones, "IH", "D")
    return (*phones, "T" if phones[-1] in _VOICELESS else "D")


def _plural(phones: tuple[str, ...]) -> tuple[str, ...]:
    if phones[-1] in _HISSING:
        return (*phones, "IH", "Z")
    return (*phones, "S" if phones[-1] in _VOICELESS else "Z")


def _going(phones: tuple[str, ...]) -> tuple[str, ...]:
    return (*phones, "IH", "NG")


def _doer(phones: tuple[str, ...]) -> tuple[str, ...]:
    return (*phones, "ER")
