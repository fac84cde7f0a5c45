"""Blocks to hearings: when a cue acts, that it acts once, and that our own voice does not."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from english import ENGLISH

from sidecue.hearing.conditioning import with_floor
from sidecue.hearing.ears import Ears, Heard
from sidecue.hearing.moonshine import MoonshineRecogniser
from sidecue.hearing.port import RATE, Block, Hearing, Samples, Vocabulary
from sidecue.procedure.plan import Tier

CUES = {cue.id: cue for cue in ENGLISH.cues}


class Says:
    """A recogniser that finds what it is told, whatever the sound; it counts its calls."""

    name = "told"

    def __init__(self, cue: str | None) -> None:
        self.cue = cue
        self.calls = 0

    def unknown_words(self, vocabulary: Vocabulary) -> tuple[str, ...]:
        return ()

    def hear(self, samples: Samples, started: float, vocabulary: Vocabulary) -> Hearing:
        self.calls += 1
        ended = started + len(samples) / RATE
        if self.cue is None:
            return Hearing(started, ended, None, "", 0.0, None, "no cue")
        cue = CUES[self.cue]
        return Hearing(started, ended, cue.id, cue.phrases[0], 0.99, cue.tier, "accepted")

    def close(self) -> None:
        pass


def quiet(seconds: float) -> Samples:
    return with_floor(np.zeros(round(seconds * RATE), np.int16))


def burst(seconds: float) -> Samples:
    return np.random.default_rng(4).normal(0, 3000, round(seconds * RATE)).astype(np.int16)


def heard(ears: Ears, *parts: Samples, block: int = 800) -> list[tuple[float, Hearing]]:
    """(when known, hearing) for the parts after one another."""
    sound = np.concatenate(parts)
    found: list[tuple[float, Hearing]] = []
    for at in range(0, len(sound), block):
        moment = ears.take(Block(at / RATE, sound[at : at + block]))
        found += [(moment.now, hearing) for hearing in moment.hearings]
    return found


def test_a_sure_cue_acts_before_the_pause_is_over() -> None:
    ((now, hearing),) = heard(Ears(Says("rinse-done"), lambda _: ENGLISH), quiet(1), burst(1))[
        :1
    ] or heard(Ears(Says("rinse-done"), lambda _: ENGLISH), quiet(1), burst(1), quiet(1))
    assert hearing.cue == "rinse-done"
    assert now - 2.0 <= 0.3


def test_a_guarded_cue_waits_until_the_pause_is_over() -> None:
    found = heard(Ears(Says("skip-this-step"), lambda _: ENGLISH), quiet(1), burst(1), quiet(1))
    ((now, hearing),) = found
    assert hearing.tier is Tier.GUARDED
    assert now - 2.0 >= 0.35


def test_a_cue_that_a_longer_one_begins_with_waits() -> None:
    longer = replace(CUES["rinse-done"], id="longer", phrases=("rinse done twice",))
    both = replace(ENGLISH, cues=(*ENGLISH.cues, longer))
    ((now, _),) = heard(Ears(Says("rinse-done"), lambda _: both), quiet(1), burst(1), quiet(1))
    assert now - 2.0 >= 0.35


@pytest.mark.parametrize("block", [160, 800, 8_000, 64_000])
def test_one_utterance_never_acts_twice(block: int) -> None:
    """Talk that goes on after a cue was acted on belongs to that utterance, be it that a block
    holds the whole of it."""
    parts = [quiet(1), burst(0.8), quiet(0.3), burst(0.8), quiet(0.3), burst(0.4), quiet(1)]
    found = heard(Ears(Says("rinse-done"), lambda _: ENGLISH), *parts, block=block)
    assert [hearing.cue for _, hearing in found] == ["rinse-done"]


def test_nothing_said_since_is_not_decoded_again() -> None:
    recogniser = Says(None)
    found = heard(Ears(recogniser, lambda _: ENGLISH), quiet(1), burst(1), quiet(1))
    assert len(found) == 1
    assert recogniser.calls == 1


def test_nothing_is_heard_while_nothing_should_be() -> None:
    recogniser = Says("rinse-done")
    assert heard(Ears(recogniser, lambda _: None), quiet(1), burst(1), quiet(1)) == []
    assert recogniser.calls == 0


def test_an_empty_block_is_told_and_harmless() -> None:
    moment = Ears(Says(None), lambda _: ENGLISH).take(Block(3.0, np.zeros(0, np.int16)))
    assert moment == Heard(3.0, (), speaking=False, arrived=False)


def test_a_session_on_recorded_speech(
    moonshine: MoonshineRecogniser, speak: Callable[..., Samples]
) -> None:
    said = ["okay tray rinse done", "nice weather today", "stop talking", "okay tray undo that"]
    parts = [part for text in said for part in (quiet(0.8), speak(text))]
    found = heard(Ears(moonshine, lambda _: ENGLISH), *parts, quiet(1))
    assert [hearing.cue for _, hearing in found] == [
        "rinse-done",
        None,
        "stop-talking",
        "undo-that",
    ]
    starts = [hearing.started for _, hearing in found]
    assert starts == sorted(starts)


PROMPTS = (
    "Rinse as long as you etched.",
    "Seal the matrix, seat the clamp.",
    "Undo that, how long left.",
    "Skip this step and hold the suction.",
    "Talking stops when rinse is done.",
)


@pytest.mark.parametrize("delay", [0.02, 0.1, 0.25])
def test_our_own_voice_at_full_loop_gain_is_no_cue(
    delay: float, moonshine: MoonshineRecogniser, speak: Callable[..., Samples]
) -> None:
    """Assistants elsewhere answered themselves. The vocabulary is that of a speaking tool."""
    speaking = replace(ENGLISH, stop_only=True)
    parts = [quiet(0.5 + delay)]
    for prompt in PROMPTS:
        parts += [speak(prompt), quiet(0.6)]
    found = heard(Ears(moonshine, lambda _: speaking), *parts)
    assert [hearing.cue for _, hearing in found if hearing.cue] == []


def test_stop_is_heard_over_our_own_voice(
    moonshine: MoonshineRecogniser, speak: Callable[..., Samples]
) -> None:
    """The talker at a headset is 12 dB nearer than the loudspeaker."""
    speaking = replace(ENGLISH, stop_only=True)
    stop = speak("hold everything", "flite:rms").astype(np.int32)
    prompt = speak("Seal the matrix, seat the clamp, and keep it dry.")[: len(stop)].astype(
        np.int32
    )
    both = stop.copy()
    both[: len(prompt)] += prompt // 4
    sound = np.clip(both, -32768, 32767).astype(np.int16)
    assert moonshine.hear(sound, 0.0, speaking).cue == "hold-everything"


def test_stop_is_obeyed_while_our_own_voice_goes_on(
    moonshine: MoonshineRecogniser, speak: Callable[..., Samples]
) -> None:
    """12 dB under the talker, as above; the prompt goes on for seconds after the word."""
    speaking = replace(ENGLISH, stop_only=True)
    prompt = " ".join(PROMPTS[:3])
    track = np.concatenate([quiet(1), speak(prompt), quiet(1)]).astype(np.int32) // 4
    stop = speak("stop talking", "flite:slt")
    begins = 2 * RATE
    track[begins : begins + len(stop)] += stop
    found = heard(
        Ears(moonshine, lambda _: speaking), np.clip(track, -32768, 32767).astype(np.int16)
    )
    assert [hearing.cue for _, hearing in found if hearing.cue] == ["stop-talking"]
    now = next(now for now, hearing in found if hearing.cue)
    assert now <= (begins + len(stop)) / RATE + 0.6
