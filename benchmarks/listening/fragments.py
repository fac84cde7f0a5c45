"""Cues with a pause inside, cues left unfinished, and numbers that sound alike."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from benchmarks.listening.moments import Moment, Said, draw, open_moment
from benchmarks.listening.rooms import heard_rows
from benchmarks.listening.streams import TAIL, TALKERS, Condition, in_condition, spoken
from benchmarks.listening.voices import RATE, Talker, Wave
from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.numbers import in_words
from sidecue.hearing.port import Vocabulary
from sidecue.procedure.plan import Cue, Tier

PAUSES = (0.15, 0.25, 0.35)  # seconds; a pause inside a cue is no longer than this
PAIRS = ((6, 16), (6, 60), (13, 30), (14, 40), (15, 50), (16, 60), (17, 70), (18, 80), (19, 90))
SNRS = (20.0, 10.0)
EACH = 4  # of each kind in a piece


def rows(number: int, seed: int) -> Iterator[dict[str, Any]]:
    """Yield the rows of a piece: one talker, one level of pink noise."""
    rng = np.random.default_rng([seed, 5, number])
    talker = TALKERS[number % len(TALKERS)]
    where = Condition(talker, "pink", SNRS[number % len(SNRS)], None)
    said: list[tuple[Said, Wave]] = []
    for at in range(EACH):
        said.append(_paused(rng, talker, PAUSES[(number + at) % len(PAUSES)]))
        said.append(_cut(rng, talker))
        said.append(_number(rng, talker, PAIRS[(EACH * number + at) % len(PAIRS)]))
    yield from heard_rows(in_condition(said, where, rng), where, "fragments", number)


def _split(rng: np.random.Generator) -> tuple[Said, str, str]:
    while True:
        said = draw("cue", rng)
        words = said.text.split()
        if len(words) > 1:
            at = int(rng.integers(1, len(words)))
            return said, " ".join(words[:at]), " ".join(words[at:])


def _paused(rng: np.random.Generator, talker: Talker, pause: float) -> tuple[Said, Wave]:
    said, first, rest = _split(rng)
    silence = np.zeros(max(0, int(pause * RATE) - TAIL), np.float32)  # `spoken` leaves TAIL
    wave = np.concatenate([spoken(first, talker), silence, spoken(rest, talker)])
    return Said(
        f"paused {round(1000 * pause)} ms", said.text, said.right, said.tier, said.moment
    ), wave


def _cut(rng: np.random.Generator, talker: Talker) -> tuple[Said, Wave]:
    """The beginning of a cue, at least its address and no whole cue."""
    while True:
        said, first, _ = _split(rng)
        path = grammar_of(said.moment.vocabulary).find(first)
        if path is None or path.cue is None:
            return Said("unfinished", first, None, "", said.moment), spoken(first, talker)


def _number(rng: np.random.Generator, talker: Talker, pair: tuple[int, int]) -> tuple[Said, Wave]:
    """One of two numbers said; the other is active, with or without the one said."""
    spoken_one, other = pair if rng.random() < 0.5 else pair[::-1]
    both = bool(rng.random() < 0.5)
    text = f"{in_words(spoken_one)} minutes"
    numbers = (spoken_one, other) if both else (other,)
    cues = tuple(
        Cue(f"minutes-{n}", (f"{in_words(n)} minutes",), Tier.GUARDED, f"{n} minutes")
        for n in numbers
    )
    now = open_moment(rng)
    words = Vocabulary(cues, now.vocabulary.address, True, False, now.vocabulary.decoys)
    moment = Moment("numbers", "", words)
    right = f"minutes-{spoken_one}" if both else None
    kind = "number, both active" if both else "number, only the other active"
    return Said(kind, text, right, "guarded" if both else "", moment), spoken(text, talker)
