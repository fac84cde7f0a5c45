"""Where utterances begin and end: on bursts of noise, and on speech."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from recogniser_contract import RNG

from sidecue.hearing.conditioning import with_floor
from sidecue.hearing.endpoint import Endpointer, Utterance
from sidecue.hearing.port import RATE, Block, Samples, Talk


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
        found = list(endpointer.feed(Block(at / RATE, sound[at : at + 160])))
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
    found = list(endpointer.feed(Block(0.0, first)))
    found += endpointer.feed(Block(9.0, np.concatenate([burst(0.5), quiet(1)])))
    assert all(said.ended < 2.2 or said.started > 8.9 for said in found)


def test_sixteen_is_not_split(speak: Callable[..., Samples]) -> None:
    """voice-command grammars elsewhere heard 'six' + 'teen'."""
    for voice in ("en-us", "en-gb", "en-gb+f3"):
        assert len(utterances(quiet(1), speak("sixteen", voice), quiet(1))) == 1


class LoudIsTalk:
    """A finder for which talk is what stands far out of the noise; counts how often it is asked.

    Its opening is a number of seconds: less talk than that asks for more.
    """

    LEVEL = 2000  # nearly six times the noise of these tests: no sample of it reaches so far

    def __init__(self) -> None:
        self.asked = 0

    def talk(self, samples: Samples, opening: str = "") -> Talk | None:
        self.asked += 1
        loud = np.flatnonzero(np.abs(samples.astype(np.int32)) > self.LEVEL)
        if len(loud) == 0:
            return None
        more = bool(opening) and (loud[-1] - loud[0]) / RATE < float(opening)
        return Talk(loud[0] / RATE, loud[-1] / RATE, more)


def offered(finder: LoudIsTalk, sound: Samples, opening: str = "") -> list[tuple[float, Utterance]]:
    """What is offered, with the moment it was."""
    endpointer = Endpointer(None, finder, opening)
    found = []
    for at in range(0, len(sound), 160):
        now = (at + 160) / RATE
        found += [(now, said) for said in endpointer.feed(Block(at / RATE, sound[at : at + 160]))]
    return found


def test_suction_that_begins_with_the_word_does_not_hold_it_open() -> None:
    """The level stays up for seconds; the finder knows that talk is over."""
    sound = np.concatenate([quiet(2), burst(1.0), quiet(3)]).astype(np.int32)
    sound[round(1.9 * RATE) :] += burst(4.1, 350)[: len(sound) - round(1.9 * RATE)]
    found = offered(LoudIsTalk(), sound.clip(-32768, 32767).astype(np.int16))
    now, said = found[0]
    assert said.ended == pytest.approx(3.0, abs=0.1)
    assert now <= 3.0 + 0.7


def test_noise_without_talk_is_let_go() -> None:
    assert offered(LoudIsTalk(), np.concatenate([quiet(2), burst(4, 300), quiet(1)])) == []


def test_in_a_quiet_room_the_finder_is_seldom_asked() -> None:
    """A few times until the floor is known, then twice for a short word: each takes 50 ms."""
    silent, spoken = LoudIsTalk(), LoudIsTalk()
    offered(silent, quiet(10))
    (_, first), (_, last) = offered(spoken, np.concatenate([quiet(9), burst(0.2), quiet(1)]))
    assert (first.final, last.final, last.same) == (False, True, True)
    assert silent.asked <= 3
    assert spoken.asked - silent.asked <= 2


def syllables(count: int) -> Samples:
    """Loud and nearly silent by turns, four times a second: the pace of speech."""
    return np.concatenate([burst(0.17), quiet(0.08)] * count)


def test_where_talk_stands_out_the_finder_is_asked_when_it_has_ended() -> None:
    """Its level tells that it goes on; the first question is whether it is talk at all."""
    finder = LoudIsTalk()
    (now, said), _ = offered(finder, np.concatenate([quiet(1), syllables(9), quiet(1)]))
    assert said.ended == pytest.approx(3.17, abs=0.05)
    assert now <= 3.17 + 0.25
    assert finder.asked <= 3


def test_talk_that_stands_out_and_does_not_fall_quiet_ends_all_the_same() -> None:
    """Suction that begins in the middle of it keeps the level up."""
    sound = np.concatenate([quiet(1), syllables(8), quiet(3)]).astype(np.int32)
    sound[2 * RATE :] += burst(4.0, 350)[: len(sound) - 2 * RATE]
    (now, said), *_ = offered(LoudIsTalk(), sound.clip(-32768, 32767).astype(np.int16))
    assert said.ended == pytest.approx(2.92, abs=0.1)
    assert now <= 2.92 + 0.7


@pytest.mark.parametrize("lasts", [0.9, 1.0, 1.1, 1.3, 1.5, 1.7])
def test_in_steady_noise_the_end_is_noticed_within_three_tenths_of_a_second(lasts: float) -> None:
    """Talk 12 dB over it: its level falls, but to the noise and never to nothing."""
    sound = burst(3 + lasts + 2, 350).astype(np.int32)
    sound[3 * RATE : round((3 + lasts) * RATE)] += burst(lasts, 1400)
    (now, said), *_ = offered(LoudIsTalk(), sound.clip(-32768, 32767).astype(np.int16))
    assert said.ended == pytest.approx(3 + lasts, abs=0.05)
    assert now <= 3 + lasts + 0.3


def test_after_the_address_alone_it_waits_for_the_cue() -> None:
    """People say whom they mean, look, and go on: common practice, no source."""
    said = np.concatenate([quiet(1), burst(0.5), quiet(0.9), burst(0.7), quiet(2)])
    split = offered(LoudIsTalk(), said)
    whole = offered(LoudIsTalk(), said, opening="0.6")
    assert len([utterance for _, utterance in split if utterance.final]) == 2
    (ended, last), *_ = [each for each in whole if each[1].final]
    assert last.started < 1.0
    assert last.ended == pytest.approx(3.1, abs=0.1)
    assert ended < 3.1 + 0.6


def test_the_address_alone_ends_at_last() -> None:
    said = np.concatenate([quiet(1), burst(0.5), quiet(3)])
    (ended, last), *others = offered(LoudIsTalk(), said, opening="0.6")
    assert last.final
    assert others == []
    assert ended == pytest.approx(1.5 + 1.2, abs=0.15)


def test_a_word_inside_talk_that_goes_on_is_shown_while_it_goes_on() -> None:
    sound = np.concatenate([quiet(1), burst(4.0), quiet(1)])
    endpointer = Endpointer(None, LoudIsTalk())
    endpointer.spotting = True
    parts = []
    for at in range(0, len(sound), 160):
        for said in endpointer.feed(Block(at / RATE, sound[at : at + 160])):
            if said.part:
                parts.append((at / RATE, said))
    assert parts[0][0] < 1.6
    assert all(later - sooner <= 0.3 for (sooner, _), (later, _) in pairwise(parts))
    assert all(len(said.samples) / RATE <= 2.25 and not said.final for _, said in parts)
    endpointer.drop()
    assert endpointer.flush() == []
