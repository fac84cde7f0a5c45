"""What is said in the bench that is no cue: near-misses, and talk of thousands of sentences."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import yaml
from pocketsphinx import Config, LogMath, NGramModel, get_model_path

COMMON = -145_000  # log probability (base 1.0001) above which a word is one that people say
_BLANK = re.compile(r"\{(\w+)\}")


@dataclass(frozen=True)
class Talk:
    """The bench's own words, read from talk.yaml."""

    near: Mapping[str, tuple[str, ...]]
    sentences: tuple[str, ...]
    frames: tuple[str, ...]
    words: Mapping[str, tuple[str, ...]]


@cache
def talk() -> Talk:
    """Read talk.yaml, which lies beside this file."""
    raw = yaml.safe_load(Path(__file__).with_name("talk.yaml").read_text("utf-8"))
    return Talk(
        near={cue: tuple(others) for cue, others in raw["near"].items()},
        sentences=tuple(raw["sentences"]),
        frames=tuple(raw["frames"]),
        words={name: tuple(words) for name, words in raw["words"].items()},
    )


def sentence(rng: np.random.Generator) -> str:
    """Draw an ordinary sentence: one in four as written, the others from a frame."""
    said = talk()
    if rng.random() < 0.25:
        return said.sentences[rng.integers(len(said.sentences))]
    frame = said.frames[rng.integers(len(said.frames))]

    def filled(blank: re.Match[str]) -> str:
        words = said.words[blank.group(1)]
        return words[rng.integers(len(words))]

    return _BLANK.sub(filled, frame)


@cache
def _lexicon() -> dict[str, tuple[str, ...]]:
    """The common words of the English lexicon that comes with PocketSphinx."""
    model = NGramModel(Config(lm=None), LogMath(), get_model_path("en-us/en-us.lm.bin"))
    found: dict[str, tuple[str, ...]] = {}
    for line in Path(get_model_path("en-us/cmudict-en-us.dict")).read_text("utf-8").splitlines():
        word, *phones = line.split()
        if word.isalpha() and len(phones) >= 3 and model.prob([word]) > COMMON:
            found[word] = tuple(phones)
    return found


@cache
def _holed() -> dict[tuple[str, ...], list[str]]:
    """Words by their phones with one taken for a hole."""
    found: dict[tuple[str, ...], list[str]] = {}
    for word, phones in _lexicon().items():
        for at in range(len(phones)):
            found.setdefault((*phones[:at], "*", *phones[at + 1 :]), []).append(word)
    return found


@cache
def one_phone_off(phrase: str) -> tuple[str, ...]:
    """Every phrase made from `phrase` by changing one phone of one word, of three phones or more,
    so that another common word stands there."""
    words = phrase.split()
    found = []
    for place, word in enumerate(words):
        phones = _lexicon().get(word, ())
        others = {
            other
            for at in range(len(phones))
            for other in _holed()[(*phones[:at], "*", *phones[at + 1 :])]
            if _lexicon()[other] != phones
        }
        found += [" ".join([*words[:place], other, *words[place + 1 :]]) for other in others]
    return tuple(sorted(found))
