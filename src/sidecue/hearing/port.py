"""Ears: the vocabulary of a moment, the judged utterance, and the ports engines and sources fill.

Audio inside is mono, 16 kHz, int16. Times are seconds on the clock of the audio source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
import numpy.typing as npt

from sidecue.procedure.plan import Cue, Tier

RATE = 16_000

Samples = npt.NDArray[np.int16]


class AudioError(Exception):
    """Sound could not be read; the message is one line saying what and how to mend it."""


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What may be heard at this moment, fixed at the start of each utterance.

    Stop-tier cues count without the address phrase; other cues need it unless `bare` is true
    (a reply to our own question, or the pedal is held). While the tool speaks, `stop_only`, and
    `saying` holds what it says and has just said. `idle` cues would do nothing now: they are known
    so as not to be taken for others.
    """

    cues: tuple[Cue, ...]
    address: str
    bare: bool = False
    stop_only: bool = False
    decoys: tuple[str, ...] = ()
    pronunciations: tuple[tuple[str, str], ...] = ()
    saying: tuple[str, ...] = ()
    idle: tuple[Cue, ...] = ()


@dataclass(frozen=True, slots=True)
class Hearing:
    """One judged utterance: a cue, or nothing and why."""

    started: float
    ended: float
    cue: str | None
    phrase: str
    score: float  # calibrated probability that this cue was said
    tier: Tier | None
    why: str  # "accepted", or the reason nothing is done


@dataclass(frozen=True, slots=True)
class Block:
    """A run of samples that began at `at`."""

    at: float
    samples: Samples


@dataclass(frozen=True, slots=True)
class Talk:
    """Where in a stretch of sound somebody speaks: seconds from its beginning.

    `more` tells that what was said so far asks for more: the address, and no cue yet.
    """

    first: float
    last: float
    more: bool = False


class AudioSource(Protocol):
    """A microphone, a file, or silence. Iterating yields blocks until the source ends."""

    def blocks(self) -> Iterator[Block]:
        """Yield blocks in order; `at` is start of block. A live source yields empty blocks
        when nothing arrives in time, so the reader is never stuck."""
        ...

    def close(self) -> None:
        """Release the device. Safe to call twice."""
        ...


class Recogniser(Protocol):
    """An engine: samples of one utterance in, a judged hearing out."""

    name: str

    def unknown_words(self, vocabulary: Vocabulary) -> tuple[str, ...]:
        """Words of the vocabulary that the engine's lexicon lacks."""
        ...

    def hear(self, samples: Samples, started: float, vocabulary: Vocabulary) -> Hearing:
        """Judge one utterance."""
        ...

    def close(self) -> None:
        """Release the model. Safe to call twice."""
        ...


@runtime_checkable
class FindsTalk(Protocol):
    """An engine that can tell speech from noise: better ends of utterances in a loud room."""

    def talk(self, samples: Samples, opening: str = "") -> Talk | None:
        """Where in `samples` somebody speaks; None where nobody does. `opening` is what a cue
        may begin with, and is none by itself."""
        ...
