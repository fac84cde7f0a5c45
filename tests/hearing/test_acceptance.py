"""The numbers that decide: readable, complete, stricter where a mistake costs more."""

from __future__ import annotations

import json
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.hearing.acceptance import FEATURES, USED, from_json, shipped
from sidecue.hearing.pronouncing import inflected, trade_words
from sidecue.procedure.plan import Tier

TEXT = files("sidecue.hearing").joinpath("data/acceptance-words.json").read_text("utf-8")


def test_what_is_shipped_was_trained_and_says_on_what() -> None:
    raw = json.loads(TEXT)
    assert set(raw["weights"]) == set(USED)
    assert raw["report"]["utterances"] > 200
    assert not {voice for voice in raw["report"]["voices"] if "slt" in voice or "awb" in voice}


def test_a_riskier_tier_asks_for_more() -> None:
    limits = shipped().thresholds
    assert limits[Tier.FREE] <= limits[Tier.ADVANCE] <= limits[Tier.GUARDED]
    assert limits[Tier.FREE] <= limits[Tier.STOP]


@given(st.dictionaries(st.sampled_from(FEATURES), st.floats(-100, 100), min_size=len(FEATURES)))
def test_a_probability_is_one_whatever_the_features(features: dict[str, float]) -> None:
    assert 0 <= shipped().probability(features) <= 1


def test_a_better_match_is_more_probable() -> None:
    usual = {name: shipped().means.get(name, 0.0) for name in FEATURES}
    better = {**usual, "cue-margin": usual["cue-margin"] + 1}
    assert shipped().probability(better) > shipped().probability(usual)


@pytest.mark.parametrize("key", ["weights", "bias", "thresholds", "means"])
def test_missing_numbers_are_named(key: str) -> None:
    raw = json.loads(TEXT)
    del raw[key]
    with pytest.raises(ValueError, match=key):
        from_json(json.dumps(raw))


def test_unknown_features_are_named() -> None:
    raw = json.loads(TEXT)
    raw["weights"]["moon phase"] = 1.0
    with pytest.raises(ValueError, match="moon phase"):
        from_json(json.dumps(raw))


@pytest.mark.parametrize(
    ("word", "phones"),
    [
        ("rinsed", "R IH N S T"),
        ("carved", "K AA R V D"),
        ("seated", "S IY T IH D"),
        ("wedges", "W EH JH IH Z"),
        ("clamps", "K L AE M P S"),
        ("etching", "EH CH IH NG"),
        ("carver", "K AA R V ER"),
    ],
)
def test_regular_inflections_are_pronounced(word: str, phones: str) -> None:
    known = {
        "rinse": "R IH N S",
        "carve": "K AA R V",
        "seat": "S IY T",
        "wedge": "W EH JH",
        "clamp": "K L AE M P",
        "etch": "EH CH",
    }
    found = inflected(word, lambda base: tuple(known.get(base, "").split()))
    assert " ".join(found) == phones


def test_an_unknown_stem_is_not_guessed() -> None:
    assert inflected("frobnicated", lambda _word: ()) == ()


def test_the_trade_words_are_spelled_in_arpabet() -> None:
    from sidecue.hearing.phones import PHONES

    for word, phones in trade_words():
        assert set(phones.split()) <= set(PHONES), word
