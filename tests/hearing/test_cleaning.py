"""Sound cleaned piece by piece is the sound cleaned at once."""

from __future__ import annotations

import numpy as np
import pytest

from sidecue.hearing.cleaning import LONGEST, Cleaner
from sidecue.hearing.conditioning import can_denoise, dbfs, denoise
from sidecue.hearing.port import RATE, Samples

pytestmark = pytest.mark.skipif(not can_denoise(), reason="no RNNoise on this machine")


def talk_in_noise(seconds: float, seed: int = 1) -> Samples:
    """Hums of changing pitch that come and go, in noise."""
    rng = np.random.default_rng(seed)
    at = np.arange(round(seconds * RATE)) / RATE
    hum = sum(np.sin(2 * np.pi * 130 * k * at + np.sin(3 * at)) / k for k in range(1, 20))
    loud = np.clip(np.sin(2 * np.pi * 1.5 * at), 0, 1)
    return np.asarray(2500 * hum * loud + rng.normal(0, 500, len(at)), np.int16)


def alike(one: Samples, other: Samples) -> float:
    """Correlation of two stretches of sound."""
    return float(np.corrcoef(one.astype(float), other.astype(float))[0, 1])


def test_cleaned_sound_lies_where_the_sound_lay():
    sound = talk_in_noise(3)
    cleaned, whole = Cleaner().clean(sound), denoise(sound)
    known = slice(0, len(sound) - RATE // 10)
    assert len(cleaned) == len(sound)
    assert alike(cleaned[known], whole[known]) > 0.99


def test_noise_is_taken_out():
    noise = np.random.default_rng(2).normal(0, 800, 3 * RATE).astype(np.int16)
    cleaned = Cleaner().clean(noise)
    assert dbfs(cleaned[RATE : 2 * RATE]) < dbfs(noise[RATE : 2 * RATE]) - 10


@pytest.mark.parametrize("step", [333, 1_600, 12_345])
def test_sound_that_grows_is_cleaned_as_if_it_had_come_at_once(step: int):
    sound = talk_in_noise(3)
    cleaner = Cleaner()
    for end in range(step, len(sound), step):
        cleaner.clean(sound[:end])
    grown, whole = cleaner.clean(sound), Cleaner().clean(sound)
    assert np.abs(grown.astype(int) - whole.astype(int)).max() <= 40


def test_what_was_cleaned_is_not_cleaned_again(monkeypatch):
    sound, cleaner = talk_in_noise(3), Cleaner()
    cleaner.clean(sound[: 2 * RATE])
    went = []
    through = cleaner._remover.through
    monkeypatch.setattr(
        cleaner._remover, "through", lambda wave: went.append(len(wave)) or through(wave)
    )
    cleaner.clean(sound[RATE // 2 : 2 * RATE + RATE // 4])  # begins later, ends later
    assert sum(went) <= 0.3 * 48_000


def test_other_sound_is_begun_anew():
    one, other = talk_in_noise(2, seed=3), talk_in_noise(2, seed=4)
    cleaner = Cleaner()
    cleaner.clean(one)
    assert np.array_equal(cleaner.clean(other), Cleaner().clean(other))


def test_short_sound_and_silence_come_back_whole():
    cleaner = Cleaner()
    for length in (0, 1, 79, 500):
        assert len(cleaner.clean(np.zeros(length, np.int16))) == length


def test_what_goes_on_for_long_is_forgotten():
    sound, cleaner = talk_in_noise(14), Cleaner()
    for begin in range(0, len(sound) - RATE, RATE):
        part = sound[begin : begin + 2 * RATE]
        assert len(cleaner.clean(part)) == len(part)
        assert len(cleaner._raw) <= LONGEST + 2 * RATE
