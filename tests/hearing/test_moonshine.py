"""The engine by phones on synthetic voices: the contract, and the ways it must not fail."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from recogniser_contract import RecogniserContract, noise

from sidecue.hearing.moonshine import MoonshineRecogniser
from sidecue.hearing.port import RATE, FindsTalk, Hearing, Samples, Vocabulary
from sidecue.procedure.plan import Cue, Tier

Speak = Callable[..., Samples]


class TestMoonshineKeepsTheContract(RecogniserContract):
    ADVANCE = "rinse done"
    STOP = "stop talking"
    FOREIGN = "we had a lovely time by the lake last weekend"

    @pytest.fixture(autouse=True)
    def _engine(self, moonshine: MoonshineRecogniser, english: Vocabulary, speak: Speak) -> None:
        self.engine, self.words, self.speak = moonshine, english, speak

    def vocabulary(self, **changes: object) -> Vocabulary:
        return replace(self.words, **changes)

    def say(self, phrase: str, vocabulary: Vocabulary) -> Hearing:
        return self.engine.hear(self.speak(phrase), 12.5, vocabulary)


@pytest.mark.parametrize("voice", ["en-gb", "en-us+f3", "flite:rms"])
def test_voices_the_engine_was_not_made_for(
    voice: str, moonshine: MoonshineRecogniser, english: Vocabulary, speak: Speak
) -> None:
    hearing = moonshine.hear(speak("okay tray, matrix sealed", voice), 0.0, english)
    assert hearing.cue == "matrix-sealed"


@pytest.mark.parametrize(
    "sound",
    [np.zeros(16_000, np.int16), np.zeros(100, np.int16), np.zeros(0, np.int16), noise(1.0)],
    ids=["silence", "a click's length", "nothing", "noise"],
)
def test_no_speech_is_no_cue(
    sound: Samples, moonshine: MoonshineRecogniser, english: Vocabulary
) -> None:
    assert moonshine.hear(sound, 0.0, english).cue is None
    assert moonshine.talk(sound) is None


@pytest.mark.parametrize(
    ("said", "active"),
    [
        ("start talking", "stop talking"),
        ("rinse not done", "rinse done"),
        ("matrix unsealed", "matrix sealed"),
        ("clamp not seated", "clamp seated"),
    ],
)
def test_a_near_phrase_or_the_opposite_is_not_taken_for_the_active_one(
    said: str, active: str, moonshine: MoonshineRecogniser, english: Vocabulary, speak: Speak
) -> None:
    assert active in {phrase for cue in english.cues for phrase in cue.phrases}
    text = said if "talking" in said else f"okay tray {said}"
    assert moonshine.hear(speak(text), 0.0, english).cue is None


ALIKE = [("six", "sixteen"), ("six", "sixty"), ("thirteen", "thirty"), ("fourteen", "forty"),
         ("fifteen", "fifty"), ("sixteen", "sixty"), ("eighteen", "eighty")]  # fmt: skip


def test_of_two_numbers_that_sound_alike_the_other_is_refused_where_one_is_active(
    moonshine: MoonshineRecogniser, english: Vocabulary, speak: Speak
) -> None:
    taken, heard, tried = [], [], 0
    for voice in ("en-us", "en-gb", "flite:rms"):
        for said, active in [*ALIKE, *(pair[::-1] for pair in ALIKE)]:
            cue = Cue("minutes", (f"{active} minutes",), Tier.GUARDED, "so many minutes")
            words = replace(english, cues=(cue,), bare=True)
            tried += 1
            for text, found in ((said, taken), (active, heard)):
                if moonshine.hear(speak(f"{text} minutes", voice), 0.0, words).cue is not None:
                    found.append((voice, text, active))
    assert len(taken) <= 0.25 * tried, taken
    assert len(heard) >= 0.75 * tried, "and the active one is heard"


def test_talk_is_found_where_it_is(moonshine: MoonshineRecogniser, speak: Speak) -> None:
    said = speak("okay tray rinse done")
    loud = np.flatnonzero(np.abs(said.astype(np.int32)) > 1000)
    room = noise(1.0, 60.0)
    found = moonshine.talk(np.concatenate([room, said, room]).astype(np.int16))
    assert isinstance(moonshine, FindsTalk)
    assert found is not None
    assert found.first == pytest.approx(1.0 + loud[0] / RATE, abs=0.2)
    assert found.last == pytest.approx(1.0 + loud[-1] / RATE, abs=0.2)
    assert not found.more


def test_the_address_alone_asks_for_more(moonshine: MoonshineRecogniser, speak: Speak) -> None:
    for text in ("okay tray", "okay"):
        found = moonshine.talk(speak(text), "okay tray")
        assert found is not None
        assert found.more
    for text in ("okay tray rinse done", "stop talking", "rinse done"):
        found = moonshine.talk(speak(text), "okay tray")
        assert found is not None
        assert not found.more


def test_words_missing_from_the_lexicon_are_named(
    moonshine: MoonshineRecogniser, english: Vocabulary
) -> None:
    odd = replace(english, decoys=("frobnicate the tray", "caries gone"))
    assert moonshine.unknown_words(odd) == ("frobnicate",)


def test_a_pronunciation_makes_a_word_known(
    moonshine: MoonshineRecogniser, english: Vocabulary, speak: Speak
) -> None:
    odd = replace(english, decoys=("zorple",), pronunciations=(("zorple", "Z AO R P AH L"),))
    assert moonshine.unknown_words(odd) == ()
    assert moonshine.hear(speak("okay tray rinse done"), 0.0, odd).cue == "rinse-done"


def test_a_cue_that_cannot_be_pronounced_is_named(
    moonshine: MoonshineRecogniser, english: Vocabulary
) -> None:
    unspeakable = replace(english.cues[0], phrases=("frobnicate",))
    with pytest.raises(ValueError, match="frobnicate"):
        moonshine.hear(noise(0.5), 0.0, replace(english, cues=(unspeakable,)))


def test_the_same_samples_give_the_same_hearing(
    moonshine: MoonshineRecogniser, english: Vocabulary, speak: Speak
) -> None:
    sound = speak("okay tray how long left")
    assert moonshine.hear(sound, 0.0, english) == moonshine.hear(sound, 0.0, english)


def test_a_closed_recogniser_says_so(english: Vocabulary) -> None:
    recogniser = MoonshineRecogniser()
    recogniser.close()
    recogniser.close()
    with pytest.raises(ValueError, match="closed"):
        recogniser.hear(noise(0.5), 0.0, english)


def test_without_the_wheel_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sidecue.hearing.encoder.model_file", lambda: None)
    with pytest.raises(ValueError, match="pip install 'moonshine-voice"):
        MoonshineRecogniser()
