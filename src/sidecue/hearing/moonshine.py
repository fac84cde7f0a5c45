"""The engine by phones: an encoder of speech, our phone head, and every phrase scored whole.

Unlike a decoder held to a grammar it scores each phrase against whatever phones were heard, so
that what is no cue has somewhere to go. See `encoder`, `phone_head`, `ctc` and `weighing`.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Hashable, Iterable
from dataclasses import replace
from typing import TypeVar

import numpy as np

from sidecue.hearing import acceptance, phone_head
from sidecue.hearing.cleaning import Cleaner
from sidecue.hearing.conditioning import can_denoise, level_of, mix, with_floor
from sidecue.hearing.ctc import Phones, freely
from sidecue.hearing.encoder import HOP, Encoder
from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.judgement import judged, nothing
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.phone_head import BLANK, LogProbabilities
from sidecue.hearing.phones import PHONES
from sidecue.hearing.port import RATE, Hearing, Samples, Talk, Vocabulary
from sidecue.hearing.spelling import Speller
from sidecue.hearing.weighing import FEATURES, Reading, read
from sidecue.procedure.phones import distances

SHORTEST = 0.18  # seconds; less is a click
SPEECH = 0.5  # probability that a frame is no blank
FEWEST = 2  # phones; one alone is a knock
BEGUN = 3  # phones of the address that are known as its beginning
QUIET = 17.0  # dB from the quiet frames to the loud ones; less, and noise is taken out
CLEANED = 0.65  # share of the cleaned sound: words suffer where all noise is taken
SOUND = 0.06  # seconds that a phone goes on after its likeliest frame
_KEPT = 64  # vocabularies
_LOGS_KEPT = 4

_Key = TypeVar("_Key", bound=Hashable)
_Value = TypeVar("_Value")


class MoonshineRecogniser:
    """Judges utterances by their phones. One thread owns it.

    `words` are (word, phones with spaces between) that it knows beside its lexicon.
    """

    name = "moonshine"

    def __init__(
        self,
        model: acceptance.Acceptance | None = None,
        words: Iterable[tuple[str, str]] = (),
    ) -> None:
        """Load the encoder. Raises ValueError where its wheel is missing."""
        self._model = model or acceptance.shipped("phones", FEATURES)
        self._words = tuple(words)
        self._encoder: Encoder | None = Encoder()
        self._head = phone_head.shipped()
        self._cleaner = Cleaner()
        self._spellers: OrderedDict[Vocabulary, Speller] = OrderedDict()
        self._lexicons: OrderedDict[tuple[tuple[str, str], ...], Lexicon] = OrderedDict()
        self._logs: OrderedDict[int, LogProbabilities] = OrderedDict()

    def unknown_words(self, vocabulary: Vocabulary) -> tuple[str, ...]:
        """Words of cues, address and decoys that no lexicon or pronunciation covers, sorted."""
        lexicon = self._lexicon(vocabulary.pronunciations)
        said = [vocabulary.address, *vocabulary.decoys]
        said += [phrase for cue in vocabulary.cues for phrase in cue.phrases]
        words = {word for phrase in said for word in phrase.split()}
        return tuple(sorted(word for word in words if not lexicon.spell(word)))

    def hear(self, samples: Samples, started: float, vocabulary: Vocabulary) -> Hearing:
        """Judge one utterance (mono 16 kHz int16) that began at `started` seconds.

        Raises ValueError when a cue has a word without pronunciation.
        """
        times = (started, started + len(samples) / RATE)
        self.speller(vocabulary)
        if len(samples) < SHORTEST * RATE:
            return nothing(times, "", "too short")
        reading = self.read(samples, vocabulary)
        if reading.best is None:
            return nothing(times, "", "no cue")
        if reading.denial is not None:
            return nothing(times, reading.denial, "not a cue of this step")
        score = self._model.probability(reading.features) if reading.features else 0.0
        return judged(reading.best.path, score, self._model.accepts, vocabulary, times)

    def read(self, samples: Samples, vocabulary: Vocabulary) -> Reading:
        """The likeliest cue of an utterance with its features."""
        speller = self.speller(vocabulary)
        found = read(self.logs(samples), speller, vocabulary.address, vocabulary.saying)
        if vocabulary.stop_only and found.features:
            found.features["outside"] = 0.0  # our own voice is expected beside it
        return found

    def talk(self, samples: Samples, opening: str = "") -> Talk | None:
        """Where in `samples` somebody speaks, or None; what lies close together is one stretch.

        Nothing but `opening`, or its beginning, is talk that goes on.
        """
        logs = self.logs(samples)
        if len(logs) == 0:
            return None
        voiced = np.flatnonzero(np.exp(logs[:, BLANK]) < 1 - SPEECH)
        if len(voiced) < FEWEST:
            return None
        step = HOP / RATE
        more = self._begins(freely(logs), opening)
        return Talk(float(voiced[0] * step), float((voiced[-1] + 1) * step + SOUND), more)

    def _begins(self, free: Phones, opening: str) -> bool:
        """True when no more was heard than a beginning of `opening`, but for one phone."""
        heard = [PHONES[phone] for phone in free]
        words = [self._lexicon(()).spell(word) for word in opening.split()]
        if not words or not all(words) or len(heard) < BEGUN:
            return False
        whole = [phone for ways in words for phone in ways[0]]
        beginnings = [whole[:many] for many in range(BEGUN, len(whole) + 1)]
        apart = distances([(tuple(heard), tuple(each)) for each in beginnings])
        return any(
            share * max(len(heard), len(each)) <= 1.0
            for share, each in zip(apart, beginnings, strict=True)
        )

    def logs(self, samples: Samples) -> LogProbabilities:
        """Phones of each frame of `samples`; the latest are kept, for they are asked for twice."""
        if self._encoder is None:
            raise ValueError("the recogniser is closed")
        key = hash(samples.tobytes())
        found = self._logs.get(key)
        if found is None:
            found = self._head(self._encoder.frames(self._clearer(samples)))
            _keep(self._logs, key, found, _LOGS_KEPT)
        return found

    def _clearer(self, samples: Samples) -> Samples:
        """`samples` as they are heard best: where it is loud, most of the noise taken out."""
        if not can_denoise() or level_of(samples).snr >= QUIET:
            return with_floor(samples)
        return mix(samples, self._cleaner.clean(samples), CLEANED)

    def speller(self, vocabulary: Vocabulary) -> Speller:
        """What is scored for a vocabulary. Raises ValueError for a cue without pronunciation."""
        vocabulary = replace(vocabulary, saying=())  # what we say changes no spelling
        found = self._spellers.get(vocabulary)
        if found is None:
            found = Speller(grammar_of(vocabulary), self._lexicon(vocabulary.pronunciations))
        _keep(self._spellers, vocabulary, found, _KEPT)
        return found

    def close(self) -> None:
        """Release the model. Safe to call twice."""
        self._encoder = None
        self._logs.clear()

    def _lexicon(self, key: tuple[tuple[str, str], ...]) -> Lexicon:
        found = self._lexicons.get(key) or Lexicon((*self._words, *key))
        _keep(self._lexicons, key, found, 4)
        return found


def _keep(kept: OrderedDict[_Key, _Value], key: _Key, value: _Value, most: int) -> None:
    """Remember a value as the latest; forget the oldest."""
    kept[key] = value
    kept.move_to_end(key)
    while len(kept) > most:
        kept.popitem(last=False)
