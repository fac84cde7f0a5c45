"""What one utterance's decoding shows: features by name, ready to be judged."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sidecue.hearing.decoding import WORST, Decode, GrammarDecoder, Word
from sidecue.hearing.grammar import Grammar, Path
from sidecue.hearing.port import Samples
from sidecue.procedure.plan import Tier

USUAL_PACE = 8.5  # frames a phone
HOPELESS = -16.0  # a word's score that no cue has ever had
POOR = -2.0  # margin of a phone that was hardly said


@dataclass(frozen=True, slots=True)
class Reading:
    """One decode of one mix, beside free speech over the same sound."""

    decode: Decode
    path: Path | None
    margins: tuple[float, ...]  # of each word
    phones: tuple[tuple[float, ...], ...]  # margin of each phone of each word

    @property
    def text(self) -> str:
        """The decoded words."""
        return self.decode.text

    def mean_margin(self, skip: int = 0) -> float:
        """Frame-weighted mean margin of the words after the first `skip`."""
        words = list(zip(self.decode.words, self.margins, strict=True))[skip:]
        frames = sum(word.frames for word, _ in words)
        return sum(word.frames * margin for word, margin in words) / frames if frames else WORST

    @property
    def worst_margin(self) -> float:
        """Margin of the worst word."""
        return min(self.margins, default=WORST)


def read(
    decoder: GrammarDecoder, samples: Samples, grammar: Grammar, *, plain: float = 0.0
) -> Reading:
    """Decode `samples` against `grammar`, and a cue against free speech too.

    That proof takes twice the time of the decode; it is left out, and `margins` are empty, for a
    cue whose every word scores at least `plain` (never for a guarded one), and for a hopeless one.
    """
    decode = decoder.decode(samples, grammar)
    path = grammar.find(decode.text) if decode.words else None
    if path is None or path.cue is None:  # a decoy needs no proof
        return Reading(decode, path, (), ())
    sure = decode.worst >= plain and path.cue.tier is not Tier.GUARDED
    if sure or decode.worst < HOPELESS:
        return Reading(decode, path, (), ())
    aligned = decoder.phone_scores(samples)
    free = decoder.free_speech(samples)
    margins = tuple(_margin(word, free) for word in decode.words)
    phones = tuple(tuple(_margin(phone, free) for phone in word) for word in aligned)
    return Reading(decode, path, margins, phones)


def _margin(word: Word, free: npt.NDArray[np.float64]) -> float:
    return word.score - float(free[word.start : word.end + 1].mean())


def features_of(reading: Reading, snr: float, address_words: int) -> dict[str, float]:
    """The features `acceptance.FEATURES` of a reading whose path was found."""
    decode, path = reading.decode, reading.path
    addressed = path is not None and path.addressed
    spoken = sum(word.frames for word in decode.words)
    margins = sorted(reading.margins)
    skip = address_words if addressed else 0
    phones = sorted(max(-15.0, margin) for word in reading.phones[skip:] for margin in word) or [
        -15.0
    ]
    count = sum(len(word) for word in reading.phones)
    return {
        "worst": decode.worst,
        "mean": decode.mean,
        "worst-margin": margins[0],
        "next-margin": margins[min(1, len(margins) - 1)],
        "mean-margin": reading.mean_margin(),
        "cue-margin": reading.mean_margin(skip),
        "worst-phone": phones[0],
        "next-phone": phones[min(1, len(phones) - 1)],
        "poor-phones": sum(margin < POOR for margin in phones) / len(phones),
        "pace": abs(math.log(max(1, spoken) / max(1, count) / USUAL_PACE)),
        "phones": math.log(max(1, count)),
        "addressed": float(addressed),
        "snr": min(40.0, snr),
        "coverage": spoken / max(1, decode.frames),
    }
