"""The listening bench's own arithmetic, against published values and constructed signals."""

import numpy as np
import pytest
from benchmarks.listening.levels import active_level, at_level, noise_gain, rms
from benchmarks.listening.measures import (
    drift,
    equal_error,
    missed_at,
    most_events,
    per_hour,
    share,
    trade_off,
)
from benchmarks.listening.open_microphone import resident
from benchmarks.listening.summary import score_of, tally
from benchmarks.listening.talk import one_phone_off, sentence, talk

RATE = 16_000


def test_the_interval_of_a_share_is_wilsons():
    # Newcombe 1998 (Statistics in Medicine 17, 857-872), table I, method 3 (score, without
    # continuity correction), from memory: 81/263 gives 0.2553 to 0.3662; 0/20 gives 0 to 0.1611.
    found = share(81, 263)
    assert (found["low"], found["high"]) == (pytest.approx(25.53), pytest.approx(36.62))
    assert share(0, 20)["high"] == pytest.approx(16.11)


def test_the_bound_on_events_is_the_exact_poisson_one():
    # Upper 95 % one-sided limits for 0, 1, 2 and 5 events: 2.996, 4.744, 6.296, 10.513
    # (half of chi-square's 95th percentile with 2k + 2 degrees of freedom; standard tables).
    assert [most_events(k) for k in (0, 1, 2, 5)] == pytest.approx(
        [2.996, 4.744, 6.296, 10.513], abs=1e-3
    )
    assert per_hour(0, 10.0)["at most"] == pytest.approx(0.3, abs=1e-3)


def test_equal_error_of_two_normal_clouds():
    # Two unit normals two deviations apart meet where each loses Phi(-1) = 15.87 %.
    rng = np.random.default_rng(1)
    curve = trade_off(rng.normal(7, 1, 40_000).tolist(), rng.normal(5, 1, 40_000).tolist())
    assert equal_error(curve) == pytest.approx(0.1587, abs=0.005)
    assert missed_at(curve, 0.01) == pytest.approx(0.628, abs=0.02)  # Phi(2.326 - 2)


def test_equal_error_of_what_is_told_apart_and_what_is_never_found():
    assert equal_error(trade_off([0.9, 0.8], [0.1, 0.2])) == 0.0
    assert equal_error(trade_off([0.9, 0.8, 0.7, 0.4], [0.5, 0.3, 0.2, 0.1])) == 0.25
    assert equal_error(trade_off([0.0, 0.0], [0.0, 0.9])) == 1.0  # never found: no threshold helps
    assert missed_at(trade_off([0.0, 0.9], [0.0, 0.0]), 0.0) == 0.5  # a score of 0 is a miss


def test_the_active_level_leaves_pauses_out():
    moment = np.arange(4 * RATE) / RATE
    talk_ = (0.2 * np.sin(2 * np.pi * 300 * moment)).astype(np.float32)
    pause = np.zeros(12 * RATE, np.float32)
    level = active_level(np.concatenate([pause, talk_, pause]))
    # A hangover of 0.2 s after 4 s of tone: 10 log10(4.2 / 4) = 0.2 dB below the tone's RMS.
    assert 20 * np.log10(level / (0.2 / np.sqrt(2))) == pytest.approx(-0.2, abs=0.15)
    assert active_level(pause) == 0.0


@pytest.mark.parametrize("snr", [20.0, 0.0])
def test_speech_and_noise_are_mixed_at_the_stated_ratio(snr):
    rng = np.random.default_rng(3)
    speech = at_level(rng.standard_normal(2 * RATE).astype(np.float32), -26.0)
    noise = rng.standard_normal(RATE).astype(np.float32)
    mixed = noise * noise_gain(active_level(speech), noise, snr)
    assert 20 * np.log10(active_level(speech)) == pytest.approx(-26.0, abs=0.01)
    assert 20 * np.log10(active_level(speech) / rms(mixed)) == pytest.approx(snr, abs=0.01)


def _row(right, *cues, score=0.9, tier="advance"):
    heard = [{"cue": cue, "score": score, "tier": tier, "phrase": cue} for cue in cues]
    return {"right": right, "heard": heard, "phrases": [right] if right else []}


def test_a_right_cue_with_a_wrong_one_beside_it_is_wrong():
    rows = [_row("a", "a"), _row("a", "b", "a"), _row("a"), _row("a", "a", "a"), _row(None, "b")]
    found = tally(rows, lambda row: [heard["cue"] for heard in row["heard"]])
    assert [found[name]["count"] for name in ("right", "wrong", "missed")] == [2, 1, 1]
    assert (found["acted twice"], found["taken"]["count"]) == (1, 1)


def test_only_the_right_cues_score_counts_for_a_cue():
    assert score_of(_row("a", "b")) == 0.0
    assert score_of(_row("a", "a", score=0.4)) == 0.4
    assert score_of(_row(None, "b")) == 0.9


def test_near_misses_differ_by_one_phone_and_are_other_words():
    # CMU dictionary: HEDGE is HH EH JH, WEDGE is W EH JH.
    assert "hedge is firm" in one_phone_off("wedge is firm")
    assert "wedge is firm" not in one_phone_off("wedge is firm")


def test_talk_never_says_a_whole_cue_of_the_near_list():
    rng = np.random.default_rng(0)
    said = {sentence(rng) for _ in range(500)}
    assert len(said) > 300
    assert not said.intersection(talk().near)
    assert not any(cue in others for cue, others in talk().near.items())


def test_drift_leaves_the_filling_of_caches_out():
    level = [(360.0, memory) for memory in (50.0, 80.0, 80.2, 80.4, 80.6)]
    assert drift(level) == pytest.approx(2.0)  # 0.2 MB each tenth of an hour
    assert drift(level[:3]) is None


def test_memory_is_told_in_megabytes():
    assert 10 < resident() < 5000
