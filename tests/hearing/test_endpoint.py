"""Where utterances begin and end: on bursts of noise, and on speech."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from recogniser_contract import RNG

from sidecue.hearing.conditioning import with_floor
from sidecue.hearing.endpoint import Endpointer, Utterance
from sidecue.hearing.port import RATE, Block, Samples


def quiet(seconds: float) -> Samples:
    return with_floor(np.zeros(round(seconds * RATE), np.int16))


def burst(seconds: float, level: float = 3000.0) -> Samples:
    """Sound as loud as near speech."""
    return RNG.normal(0, level, round(seconds * RATE)).astype(np.int16)


def utterances(*parts: Samples, block: int = 800) -> list[Utterance]:
    """Final utterances of the parts after one another."""
    sound = np.concatenate(parts)
    endpointer = Endpointer()
    found: list[Utterance] = []
    for at in range(0, len(sound), block):
        found += endpointer.feed(Block(at / RATE, sound[at : at + block]))
    return [said for said in (*found, *endpointer.flush()) if said.final]


def test_an_utterance_is_found_where_it_is() -> None:
    (said,) = utterances(quiet(1), burst(1), quiet(1))
    assert said.started == pytest.approx(0.8, abs=0.1)  # a little is kept before the onset
    assert said.ended == pytest.approx(2.0, abs=0.08)


@pytest.mark.parametrize("pause", [0.1, 0.2, 0.35])
def test_a_pause_inside_a_cue_does_not_split_it(pause: float) -> None:
    assert len(utterances(quiet(1), burst(0.4), quiet(pause), burst(0.4), quiet(1))) == 1


def test_a_longer_pause_ends_it() -> None:
    assert len(utterances(quiet(1), burst(0.4), quiet(0.8), burst(0.4), quiet(1))) == 2


def test_the_end_is_noticed_within_half_a_second() -> None:
    sound = np.concatenate([quiet(1), burst(1), quiet(1)])
    endpointer = Endpointer()
    for at in range(0, len(sound), 160):
        found = endpointer.feed(Block(at / RATE, sound[at : at + 160]))
        if found and not found[0].final:
            assert at / RATE - 2.0 <= 0.25
        if found and found[0].final:
            assert at / RATE - 2.0 <= 0.5
            return
    pytest.fail("no end was found")


@pytest.mark.parametrize("level", [30.0, 300.0, 3000.0])
def test_steady_noise_is_not_endless_speech(level: float) -> None:
    """Suction switched on: at most one utterance, then it is the floor."""
    assert len(utterances(quiet(2), burst(20, level))) <= 1


def test_no_utterance_is_longer_than_the_limit() -> None:
    rising = np.concatenate([burst(0.5, 300 * 1.2**step) for step in range(24)])
    for said in utterances(quiet(1), rising, quiet(1)):
        assert len(said.samples) <= 5.5 * RATE


def test_a_click_is_no_utterance() -> None:
    assert utterances(quiet(1), burst(0.02, 9000), quiet(1)) == []


def test_speech_over_steady_noise_is_found() -> None:
    sound = np.concatenate([quiet(3), burst(1), quiet(2)]).astype(np.int32)
    sound += burst(6, 300)
    (said,) = [u for u in utterances(sound.astype(np.int16)) if u.started > 1.5]
    assert said.started == pytest.approx(2.8, abs=0.15)
    assert said.ended == pytest.approx(4.0, abs=0.15)


@pytest.mark.parametrize("block", [160, 333, 800, 4000])
def test_block_size_changes_nothing(block: int) -> None:
    parts = [quiet(1), burst(0.6), quiet(0.2), burst(0.5), quiet(1), burst(0.7), quiet(1)]
    sound = np.concatenate(parts)
    whole = [time for u in utterances(sound) for time in (u.started, u.ended)]
    found = [time for u in utterances(sound, block=block) for time in (u.started, u.ended)]
    assert found == pytest.approx(whole)


def test_an_utterance_still_spoken_at_the_end_is_kept() -> None:
    assert len(utterances(quiet(1), burst(1))) == 1


def test_a_hole_in_the_stream_ends_the_utterance() -> None:
    """A microphone that drops out mid-sentence must not glue two halves together."""
    endpointer = Endpointer()
    first = np.concatenate([quiet(1), burst(1)])
    found = endpointer.feed(Block(0.0, first))
    found += endpointer.feed(Block(9.0, np.concatenate([burst(0.5), quiet(1)])))
    assert all(said.ended < 2.2 or said.started > 8.9 for said in found)


def test_sixteen_is_not_split(speak: Callable[..., Samples]) -> None:
    """voice-command grammars elsewhere heard 'six' + 'teen'."""
    for voice in ("en-us", "en-gb", "en-gb+f3"):
        assert len(utterances(quiet(1), speak("sixteen", voice), quiet(1))) == 1
