"""Phones as the speech engine takes them: a word said as a lexicon has it, not as it is written."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from importlib.resources import files

import yaml

#: Codes of eSpeak NG that mean a vowel begin with one of these.
_VOWELS = tuple("AEIOUVaeiou3")
_WEAK = {"V": "@"}  # "hut" without stress is the second vowel of "sofa"


def in_codes(phones: Sequence[str]) -> str:
    """Return ARPAbet `phones` (no stress) as phoneme codes in double brackets, which the engine
    says instead of reading. The first vowel is stressed: a lexicon without stress marks does not
    tell which one is. Raises KeyError for what is no phone."""
    codes = [_codes()[phone] for phone in phones]
    stressed = next((at for at, code in enumerate(codes) if code.startswith(_VOWELS)), None)
    said = [
        f"'{code}" if at == stressed else _WEAK.get(code, code) for at, code in enumerate(codes)
    ]
    return f"[[{'|'.join(said)}]]"  # the bar keeps T and SH from becoming CH


@cache
def _codes() -> dict[str, str]:
    text = files("sidecue.speaking").joinpath("data/phones.yaml").read_text("utf-8")
    codes: dict[str, str] = yaml.load(text, Loader=yaml.BaseLoader)
    return codes
