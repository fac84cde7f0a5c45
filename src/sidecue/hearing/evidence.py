"""What one utterance's decoding shows: features by name, ready to be judged."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from sidecue.hearing.decoding import WORST, Decode, GrammarDecoder
from sidecue.hearing.grammar import Grammar, Path
from sidecue.hearing.port import Samples

USUAL_PACE = 8.5  # frames a phone


@dataclass(frozen=True, slots=True)
class Reading:
    """One decode of one mix, beside free speech over the same sound."""

    decode: Decode
    path: Path | None
    margins: tuple[float, ...]  # of each word
    phones: int

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


def read(decoder: GrammarDecoder, samples: Samples, grammar: Grammar) -> Reading:
    """Decode `samples` against `grammar` and against free speech."""
    decode = decoder.decode(samples, grammar)
    path = grammar.find(decode.text) if decode.words else None
    if path is None:
        return Reading(decode, None, (), 0)
    free = decoder.free_speech(samples)
    margins = tuple(word.score - _mean(free, word.start, word.end) for word in decode.words)
    phones = sum(len(decoder.phones(word.text)) for word in decode.words)
    return Reading(decode, path, margins, phones)


def _mean(scores: npt.NDArray[np.float64], start: int, end: int) -> float:
    return float(scores[start : end + 1].mean())


def first_features(reading: Reading, snr: float, address_words: int) -> dict[str, float]:
    """The features `acceptance.FIRST` of a reading whose path was found."""
    decode, path = reading.decode, reading.path
    addressed = path is not None and path.addressed
    spoken = sum(word.frames for word in decode.words)
    margins = sorted(reading.margins)
    return {
        "worst": decode.worst,
        "mean": decode.mean,
        "worst-margin": margins[0],
        "next-margin": margins[min(1, len(margins) - 1)],
        "mean-margin": reading.mean_margin(),
        "cue-margin": reading.mean_margin(address_words if addressed else 0),
        "pace": abs(math.log(max(1, spoken) / max(1, reading.phones) / USUAL_PACE)),
        "phones": math.log(max(1, reading.phones)),
        "addressed": float(addressed),
        "snr": min(40.0, snr),
        "coverage": spoken / max(1, decode.frames),
    }


def second_features(first: dict[str, float], reading: Reading, other: Reading) -> dict[str, float]:
    """The features `acceptance.SECOND`: the first ones, and what another mix shows."""
    heard = other.path is not None
    return {
        **first,
        "agreement": float(heard and other.text == reading.text),
        "other-margin": max(-12.0, other.mean_margin()) if heard else -12.0,
        "other-worst": max(-12.0, other.worst_margin) if heard else -12.0,
    }
