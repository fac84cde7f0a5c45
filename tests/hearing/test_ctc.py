"""The forward pass against the definition of connectionist temporal classification.

Oracle: the sum over every path of frames that collapses to the phrase (A. Graves and others,
"Connectionist temporal classification", ICML 2006, equation 3), enumerated.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.hearing.ctc import NEVER, aligned, freely, lay_out, log_likelihoods
from sidecue.hearing.phone_head import BLANK, CLASSES, LogProbabilities


def frames(count: int, seed: int) -> LogProbabilities:
    """Random frames in which only three phones and the blank have weight."""
    rng = np.random.default_rng(seed)
    scores = np.full((count, CLASSES), -40.0)
    scores[:, [0, 1, 2, BLANK]] = rng.normal(0, 2, (count, 4))
    scores -= np.log(np.exp(scores).sum(axis=1, keepdims=True))
    return scores.astype(np.float32)


def collapsed(path: tuple[int, ...]) -> tuple[int, ...]:
    return tuple(
        one for at, one in enumerate(path) if one != BLANK and (at == 0 or path[at - 1] != one)
    )


def by_definition(logs: LogProbabilities, phrase: tuple[int, ...]) -> float:
    total = sum(
        math.exp(sum(float(logs[at, one]) for at, one in enumerate(path)))
        for path in itertools.product((0, 1, 2, BLANK), repeat=len(logs))
        if collapsed(path) == phrase
    )
    return math.log(total) if total else NEVER


@pytest.mark.parametrize("phrase", [(0,), (0, 1), (1, 1), (2, 0, 2), (0, 0, 1)])
@pytest.mark.parametrize("seed", range(3))
def test_a_phrase_is_as_likely_as_all_its_paths_together(
    phrase: tuple[int, ...], seed: int
) -> None:
    logs = frames(5, seed)
    found = log_likelihoods(logs, lay_out([phrase, (0, 1, 2)]))[0]
    assert found == pytest.approx(by_definition(logs, phrase), abs=1e-3)


def test_a_phrase_longer_than_the_sound_cannot_be() -> None:
    assert log_likelihoods(frames(2, 1), lay_out([(0, 1, 2)]))[0] == NEVER
    assert log_likelihoods(frames(0, 1), lay_out([(0,)]))[0] == NEVER


@given(st.integers(0, 1000), st.integers(30, 200))
def test_long_sounds_do_not_underflow(seed: int, count: int) -> None:
    found = log_likelihoods(frames(count, seed), lay_out([(0, 1, 2, 0, 1)]))
    assert NEVER < found[0] <= 1e-3


@given(st.integers(0, 1000))
def test_what_is_freely_heard_is_what_the_best_classes_collapse_to(seed: int) -> None:
    logs = frames(6, seed)
    assert freely(logs) == collapsed(tuple(int(one) for one in logs.argmax(axis=1)))


def test_each_phone_is_found_at_its_place() -> None:
    logs = np.full((9, CLASSES), -8.0, dtype=np.float32)
    logs[:, BLANK] = -0.01
    for at, phone in ((1, 5), (4, 7), (7, 5)):
        logs[at, BLANK], logs[at, phone] = -8.0, -0.01
    assert aligned(logs, (5, 7, 5)).tolist() == [1, 4, 7]
    assert len(aligned(logs[:2], (5, 7, 5))) == 0


def said(*phones: int) -> LogProbabilities:
    """Every phone heard surely in a frame of its own, silence between."""
    logs = np.full((2 * len(phones) + 1, CLASSES), -12.0, dtype=np.float32)
    logs[::2, BLANK] = logs[range(1, len(logs), 2), list(phones)] = -0.001
    return logs


def test_other_talk_around_a_phrase_costs_by_its_phones() -> None:
    """Without `around` it cannot be the whole; with it, each phone outside costs the same."""
    phrase = lay_out([(5, 7)])
    alone = log_likelihoods(said(5, 7), phrase, 0.05)[0]
    between = log_likelihoods(said(9, 5, 7, 11), phrase, 0.05)[0]
    assert alone == pytest.approx(log_likelihoods(said(5, 7), phrase)[0], abs=0.01)
    assert between == pytest.approx(alone + 2 * math.log(0.05), abs=0.05)
    assert log_likelihoods(said(9, 5, 7, 11), phrase)[0] < between - 10
    assert aligned(said(9, 5, 7, 11), (5, 7), 0.05).tolist() == [3, 5]
