"""PocketSphinx on synthetic voices: the contract, and the ways it must not fail."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from recogniser_contract import RecogniserContract, noise

from sidecue.hearing.port import Hearing, Samples, Vocabulary
from sidecue.hearing.sphinx import SphinxRecogniser


class TestSphinxKeepsTheContract(RecogniserContract):
    ADVANCE = "rinse done"
    STOP = "stop talking"
    FOREIGN = "we had a lovely time by the lake last weekend"

    @pytest.fixture(autouse=True)
    def _engine(
        self, sphinx: SphinxRecogniser, english: Vocabulary, speak: Callable[..., Samples]
    ) -> None:
        self.engine, self.words, self.speak = sphinx, english, speak

    def vocabulary(self, **changes: object) -> Vocabulary:
        return replace(self.words, **changes)

    def say(self, phrase: str, vocabulary: Vocabulary) -> Hearing:
        return self.engine.hear(self.speak(phrase), 12.5, vocabulary)


@pytest.mark.parametrize("voice", ["en-gb", "en-us+f3", "flite:rms"])
def test_voices_the_engine_was_not_made_for(
    voice: str, sphinx: SphinxRecogniser, english: Vocabulary, speak: Callable[..., Samples]
) -> None:
    hearing = sphinx.hear(speak("okay tray, matrix sealed", voice), 0.0, english)
    assert hearing.cue == "matrix-sealed"


@pytest.mark.parametrize(
    "sound",
    [np.zeros(16_000, np.int16), np.zeros(100, np.int16), np.zeros(0, np.int16), noise(1.0)],
    ids=["silence", "a click's length", "nothing", "noise"],
)
def test_no_speech_is_no_cue(sound: Samples, sphinx: SphinxRecogniser, english: Vocabulary) -> None:
    assert sphinx.hear(sound, 0.0, english).cue is None


def test_a_near_phrase_is_not_taken_for_the_active_one(
    sphinx: SphinxRecogniser, english: Vocabulary, speak: Callable[..., Samples]
) -> None:
    assert sphinx.hear(speak("start talking"), 0.0, english).cue is None


def test_words_missing_from_the_lexicon_are_named(
    sphinx: SphinxRecogniser, english: Vocabulary
) -> None:
    odd = replace(english, decoys=("frobnicate the tray", "caries gone"))
    assert sphinx.unknown_words(odd) == ("frobnicate",)


def test_a_pronunciation_makes_a_word_known(
    english: Vocabulary, speak: Callable[..., Samples]
) -> None:
    recogniser = SphinxRecogniser()
    odd = replace(english, decoys=("zorple",), pronunciations=(("zorple", "Z AO R P AH L"),))
    assert recogniser.unknown_words(odd) == ()
    assert recogniser.hear(speak("okay tray rinse done"), 0.0, odd).cue == "rinse-done"


def test_a_cue_that_cannot_be_pronounced_is_named(
    sphinx: SphinxRecogniser, english: Vocabulary
) -> None:
    unspeakable = replace(english.cues[0], phrases=("frobnicate",))
    with pytest.raises(ValueError, match="frobnicate"):
        sphinx.hear(noise(0.5), 0.0, replace(english, cues=(unspeakable,)))


def test_the_same_samples_give_the_same_hearing(
    sphinx: SphinxRecogniser, english: Vocabulary, speak: Callable[..., Samples]
) -> None:
    sound = speak("okay tray how long left")
    assert sphinx.hear(sound, 0.0, english) == sphinx.hear(sound, 0.0, english)


def test_a_closed_recogniser_says_so(english: Vocabulary) -> None:
    recogniser = SphinxRecogniser()
    recogniser.close()
    recogniser.close()
    with pytest.raises(ValueError, match="closed"):
        recogniser.hear(noise(0.5), 0.0, english)
