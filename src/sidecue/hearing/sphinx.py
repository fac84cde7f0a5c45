"""The PocketSphinx engine: one grammar, one decode where it is sure, a second where it is not."""

from __future__ import annotations

from collections import OrderedDict

import numpy as np

from sidecue.hearing import acceptance
from sidecue.hearing.conditioning import (
    FRAME,
    can_denoise,
    denoise,
    frame_levels,
    level_of,
    mix,
    with_floor,
)
from sidecue.hearing.decoding import GrammarDecoder
from sidecue.hearing.evidence import Reading, first_features, read, second_features
from sidecue.hearing.grammar import Grammar, focused, grammar_of
from sidecue.hearing.judgement import judged, nothing
from sidecue.hearing.port import RATE, Hearing, Samples, Vocabulary

NEAR_TALKER_DB = 12.0  # frames this far below the utterance's peak belong to somebody farther off
BRIDGE = 45  # frames of pause inside a cue
AROUND = 12  # frames kept around
DECOYS = 50  # more cost time and help little
SHORTEST = 0.18  # seconds; less is a click
_GRAMMARS_KEPT = 64


class SphinxRecogniser:
    """Judges utterances with PocketSphinx's English model. One thread owns it."""

    name = "pocketsphinx"

    def __init__(self, model: acceptance.Acceptance | None = None) -> None:
        self._model = model or acceptance.shipped()
        self._decoder: GrammarDecoder | None = GrammarDecoder()
        self._grammars: OrderedDict[Vocabulary, Grammar] = OrderedDict()

    def unknown_words(self, vocabulary: Vocabulary) -> tuple[str, ...]:
        """Words of cues, address and decoys that no lexicon or pronunciation covers, sorted."""
        decoder = self._ready(vocabulary)
        said = [vocabulary.address, *vocabulary.decoys]
        said += [phrase for cue in vocabulary.cues for phrase in cue.phrases]
        words = {word for phrase in said for word in phrase.split()}
        return tuple(sorted(word for word in words if not decoder.knows(word)))

    def hear(self, samples: Samples, started: float, vocabulary: Vocabulary) -> Hearing:
        """Judge one utterance (mono 16 kHz int16) that began at `started` seconds.

        Raises ValueError when a cue has a word without pronunciation; decoys with such words are
        left out.
        """
        times = (started, started + len(samples) / RATE)
        decoder = self._ready(vocabulary)
        grammar = self.grammar(vocabulary)
        if len(samples) < SHORTEST * RATE:
            return nothing(times, "", "too short")
        snr = level_of(samples).snr
        sound = Sound(near_talker(samples), snr)
        reading = read(decoder, sound.first(), grammar)
        if reading.path is None:
            return nothing(times, reading.text, "no cue")
        features = first_features(reading, snr, len(vocabulary.address.split()))
        score = self._model.first.probability(features)
        if self._model.in_doubt(score):
            other = read(decoder, sound.second(), grammar)
            both = second_features(features, reading, other)
            score = self._model.second.probability(both)
        return judged(reading.path, score, self._model.accepts, vocabulary, times)

    def readings(
        self, samples: Samples, vocabulary: Vocabulary
    ) -> tuple[Reading, dict[str, float]]:
        """Both decodes and all features, without judging: what training looks at.

        The features are empty when the first decode found no path.
        """
        decoder, grammar = self._ready(vocabulary), self.grammar(vocabulary)
        snr = level_of(samples).snr
        sound = Sound(near_talker(samples), snr)
        reading = read(decoder, sound.first(), grammar)
        if reading.path is None:
            return reading, {}
        first = first_features(reading, snr, len(vocabulary.address.split()))
        return reading, second_features(first, reading, read(decoder, sound.second(), grammar))

    def grammar(self, vocabulary: Vocabulary) -> Grammar:
        """What is decoded for a vocabulary. Raises ValueError for a cue without pronunciation."""
        kept = self._grammars.get(vocabulary)
        if kept is None:
            kept = self._speakable(grammar_of(vocabulary), self._ready(vocabulary))
            self._grammars[vocabulary] = kept
            if len(self._grammars) > _GRAMMARS_KEPT:
                self._grammars.popitem(last=False)
        self._grammars.move_to_end(vocabulary)
        return kept

    def close(self) -> None:
        """Release the model."""
        self._decoder = None

    def _ready(self, vocabulary: Vocabulary) -> GrammarDecoder:
        if self._decoder is None:
            raise ValueError("the recogniser is closed")
        for word, phones in vocabulary.pronunciations:
            self._decoder.pronounce(word, phones)
        return self._decoder

    @staticmethod
    def _speakable(grammar: Grammar, decoder: GrammarDecoder) -> Grammar:
        unknown = {word for word in grammar.words if not decoder.knows(word)}
        kept = []
        for text, path in grammar.paths:
            missing = unknown & set(text.split())
            if not missing:
                kept.append((text, path))
            elif path.cue is not None:
                raise ValueError(
                    f"cue {path.phrase!r}: no pronunciation for {', '.join(sorted(missing))};"
                    " add one or reword the cue"
                )
        return focused(Grammar(grammar.address, tuple(kept)), decoder.phones, DECOYS)


class Sound:
    """One utterance in the two mixes worth decoding; denoised at most once, and only if needed."""

    QUIET = 35.0  # dB; a quieter room needs no denoising
    NOISY = 12.0

    def __init__(self, samples: Samples, snr: float) -> None:
        self._samples = samples
        self._snr = snr if can_denoise() else 100.0
        self._cleaned: Samples | None = None

    def first(self) -> Samples:
        """The mix that is right most often at this level of noise."""
        if self._snr >= self.QUIET:
            return with_floor(self._samples)
        return self._mix(0.7 if self._snr < self.NOISY else 0.5)

    def second(self) -> Samples:
        """Another mix: a second look at the same sound."""
        if not can_denoise():
            return with_floor(self._samples)
        return self._mix(0.7 if self._snr >= self.QUIET else 0.9 if self._snr < self.NOISY else 0.0)

    def _mix(self, share: float) -> Samples:
        if share == 0.0:
            return with_floor(self._samples)
        if self._cleaned is None:
            self._cleaned = denoise(self._samples)
        return mix(self._samples, self._cleaned, share)


def near_talker(samples: Samples) -> Samples:
    """Cut `samples` to the nearest talker's words, by level."""
    levels = frame_levels(samples)
    if len(levels) < 2 * AROUND:
        return samples
    smooth = np.convolve(levels, np.ones(3) / 3, mode="same")
    loud = np.flatnonzero(smooth >= smooth.max() - NEAR_TALKER_DB)
    first = last = int(np.argmax(smooth))
    for frame in loud[loud > last]:
        if frame - last > BRIDGE:
            break
        last = int(frame)
    for frame in loud[loud < first][::-1]:
        if first - frame > BRIDGE:
            break
        first = int(frame)
    begin, end = max(0, first - AROUND) * FRAME, (last + AROUND + 1) * FRAME
    return samples[begin:end]
