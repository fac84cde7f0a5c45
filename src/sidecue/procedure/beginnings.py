"""How a prompt begins: with the verb, so that what to do is the first thing heard.

Nobody can list every imperative of the trade. What is refused is only what certainly is none: an
article, a pronoun, a thing of the surgery, a word that tells what is going on ("placing").
"""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files

import yaml

_WORD = re.compile(r"[a-z']+")
_GOING_ON = re.compile(r"[a-z]*[aeiouy][a-z]*ing")  # "placing", not "bring"


@cache
def _data() -> tuple[frozenset[str], frozenset[str]]:
    """Return what may stand before the verb, and what is never a verb."""
    text = files("sidecue.procedure").joinpath("data/beginnings.yaml").read_text("utf-8")
    data = yaml.safe_load(text)
    never = (word for group in (*data["never"], *data["things"]) for word in group)
    return frozenset(data["before"]), frozenset(never)


def beginning_fault(text: str) -> str | None:
    """Return what is wrong with how a prompt begins, or None where it may well be a verb."""
    before, never = _data()
    words = text.split()
    while len(words) > 1 and _plain(words[0]) in before:
        words = words[1:]
    if not words:
        return None
    first = _plain(words[0])
    if words[0].startswith("{") or first in never or _GOING_ON.fullmatch(first):
        return f"begins with {words[0]!r}, which is no verb"
    return None


def _plain(word: str) -> str:
    found = _WORD.match(word.lower())
    return found[0] if found is not None else ""
