"""Sound of any make becomes mono 16 kHz int16, floored and levelled."""

from __future__ import annotations

import sys

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.hearing.conditioning import (
    FLOOR_DBFS,
    StreamConverter,
    can_denoise,
    dbfs,
    denoise,
    level_of,
    mix,
    to_mono_16k,
    with_floor,
)
from sidecue.hearing.port import RATE


@given(
    rate=st.integers(4000, 192_000),
    channels=st.integers(1, 8),
    frames=st.integers(0, 3000),
    dtype=st.sampled_from([np.int16, np.int32, np.float32, np.float64]),
)
def test_any_rate_and_channels(rate: int, channels: int, frames: int, dtype: type) -> None:
    samples = to_mono_16k(np.zeros((frames, channels), dtype=dtype), rate)
    assert samples.dtype == np.int16
    assert abs(len(samples) - frames * RATE / rate) <= 2


@pytest.mark.parametrize("rate", [0, -1, 3999, 10_000_000])
def test_impossible_rates_are_refused(rate: int) -> None:
    with pytest.raises(ValueError, match="rate"):
        to_mono_16k(np.zeros(10, np.int16), rate)


def test_digital_silence_gets_a_floor() -> None:
    floored = with_floor(np.zeros(RATE, np.int16))
    assert dbfs(floored) == pytest.approx(FLOOR_DBFS, abs=1)
    assert np.array_equal(floored, with_floor(np.zeros(RATE, np.int16)))


def test_loud_floats_are_limited_not_wrapped() -> None:
    assert to_mono_16k(np.array([2.0, -2.0, np.nan, np.inf]), RATE).tolist() == [
        32767,
        -32768,
        0,
        32767,
    ]


def test_a_stream_in_blocks_is_the_whole_without_seams() -> None:
    wave = (8000 * np.sin(2 * np.pi * 440 * np.arange(48_000) / 48_000)).astype(np.int16)
    stereo = np.repeat(wave[:, None], 2, axis=1).reshape(-1)
    converter = StreamConverter(48_000, 2)
    pieces = [converter.convert(stereo[at : at + 4800]) for at in range(0, len(stereo), 4800)]
    streamed = np.concatenate(pieces)
    assert np.abs(np.diff(streamed[400:].astype(int))).max() < 2000


def test_clipping_and_faintness_are_named() -> None:
    loud = np.full(RATE, 32767, np.int16)
    assert "clipping" in level_of(loud).complaint
    assert "too quiet" in level_of(with_floor(np.zeros(RATE, np.int16))).complaint


def test_denoising_lowers_noise_keeps_length_and_needs_no_heavy_import() -> None:
    if not can_denoise():
        pytest.skip("needs the RNNoise library of pyrnnoise")
    hiss = np.random.default_rng(1).normal(0, 1000, 2 * RATE).astype(np.int16)
    cleaned = denoise(hiss)
    assert len(cleaned) == len(hiss)
    assert dbfs(cleaned[RATE:]) < dbfs(hiss[RATE:]) - 10
    assert "av" not in sys.modules


def test_a_mix_lies_between_its_parts() -> None:
    loud, silent = np.full(RATE, 10_000, np.int16), np.zeros(RATE, np.int16)
    assert mix(loud, silent, 0.7).mean() == pytest.approx(3000, abs=5)
