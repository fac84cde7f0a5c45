"""The PocketSphinx engine: one grammar, one decode where it is sure, a second where it is not."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass

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
from sidecue.hearing.decoding import QUICK, THOROUGH, GrammarDecoder
from sidecue.hearing.evidence import features_of, read
from sidecue.hearing.grammar import Grammar, Path, focused, grammar_of
from sidecue.hearing.judgement import judged, nothing
from sidecue.hearing.port import RATE, Hearing, Samples, Vocabulary

NEAR_TALKER_DB = 12.0  # frames this far below the utterance's peak belong to somebody farther off
BRIDGE = 45  # frames of pause inside a cue
AROUND = 12  # frames kept around
DECOYS = 50  # more cost time and help little
SHORTEST = 0.18  # seconds; less is a click
# In a quiet room a cue whose worst word is this good is taken without proof, to save two thirds of
# the time; never a guarded one. Thin: of 21 wrong decodes in training the best reached -4.72.
PLAIN = -4.6
PLAIN_SNR = 25.0
PLAINLY = 0.99
DISAGREEING = 0.5  # what is left of a probability when two looks find different cues
_GRAMMARS_KEPT = 64


@dataclass(frozen=True, slots=True)
class Look:
    """One decode of one mix, judged. `score` is 0 and features are empty without a cue."""

    text: str
    path: Path | None
    score: float
    features: dict[str, float]

    @property
    def cue(self) -> str | None:
        """Id of the cue it points to."""
        return self.path.cue.id if self.path is not None and self.path.cue is not None else None


class SphinxRecogniser:
    """Judges utterances with PocketSphinx's English model. One thread owns it.

    `words` are (word, phones with spaces between) that it knows beside its lexicon.
    """

    name = "pocketsphinx"

    def __init__(
        self,
        model: acceptance.Acceptance | None = None,
        words: Iterable[tuple[str, str]] = (),
    ) -> None:
        self._model = model or acceptance.shipped()
        self._words = tuple(words)
        self._decoder: GrammarDecoder | None = GrammarDecoder(QUICK, self._words)
        self._second: GrammarDecoder | None = None
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
        if len(samples) < SHORTEST * RATE:
            self._ready(vocabulary)
            return nothing(times, "", "too short")
        best, other = self.looks(samples, vocabulary)
        if best.path is None:
            return nothing(times, best.text, "no cue")
        score = best.score
        if other is not None and other.cue is not None and other.cue != best.cue:
            score *= DISAGREEING
        return judged(best.path, score, self._model.accepts, vocabulary, times)

    def looks(self, samples: Samples, vocabulary: Vocabulary) -> tuple[Look, Look | None]:
        """The better look at an utterance, and the other one where two were needed."""
        snr = level_of(samples).snr
        sound = Sound(near_talker(samples), snr)
        first = self._look(self._ready(vocabulary), sound.first(), vocabulary, snr)
        clear = first.path is not None and first.cue is None and snr >= Sound.QUIET
        if clear or (first.cue is not None and not self._model.in_doubt(first.score)):
            return first, None
        second = self._look(self._thorough(vocabulary), sound.second(), vocabulary, snr)
        better = second.cue is not None and second.score > first.score
        return (second, first) if better or first.path is None else (first, second)

    def _look(
        self, decoder: GrammarDecoder, sound: Samples, vocabulary: Vocabulary, snr: float
    ) -> Look:
        plain = PLAIN if snr >= PLAIN_SNR and decoder is self._decoder else 0.0
        reading = read(decoder, sound, self.grammar(vocabulary), plain=plain)
        if reading.path is None or reading.path.cue is None:
            return Look(reading.text, reading.path, 0.0, {})
        if not reading.margins:
            score = PLAINLY if reading.decode.worst >= plain else 0.0
            return Look(reading.text, reading.path, score, {})
        features = features_of(reading, snr, len(vocabulary.address.split()))
        return Look(reading.text, reading.path, self._model.probability(features), features)

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
        self._decoder = self._second = None

    def _thorough(self, vocabulary: Vocabulary) -> GrammarDecoder:
        """The decoder of the second look, loaded when first needed."""
        if self._second is None:
            self._second = GrammarDecoder(THOROUGH, self._words)
        for word, phones in vocabulary.pronunciations:
            self._second.pronounce(word, phones)
        for word in self.grammar(vocabulary).words:
            self._second.knows(word)  # makes inflections known
        return self._second

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
