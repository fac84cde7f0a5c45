"""What is tuned is kept as numbers, for the ears and the microphone it was made with."""

from __future__ import annotations

from dataclasses import replace

import pytest

from sidecue.hearing import acceptance, weighing
from sidecue.hearing.own_tuning import (
    Tuning,
    fingerprint,
    forget,
    keep,
    own_tuning_path,
    own_tunings,
    tuning_for,
)
from sidecue.procedure.plan import Tier
from sidecue.procedure.source import LoadError

EARS = acceptance.shipped("phones", weighing.FEATURES)
LOWER = round(EARS.thresholds[Tier.ADVANCE] - 0.1, 3)
LIMITS = {**EARS.thresholds, Tier.ADVANCE: LOWER}
DESK = Tuning(
    "moonshine", "Desk: microphone", "2026-11-25", fingerprint(EARS), LIMITS, 20, 1, 12, 0
)


@pytest.fixture(autouse=True)
def home(tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    return tmp_path


def test_nothing_is_tuned_at_first():
    assert own_tunings() == ()
    assert not forget()


def test_what_is_kept_is_read_again_one_for_each_engine_and_microphone():
    headset = replace(DESK, microphone="Headset 5")
    for each in (DESK, headset, replace(DESK, missed=3)):
        keep(each)
    assert tuning_for("moonshine", "Desk: microphone") == replace(DESK, missed=3)
    assert tuning_for("moonshine", "Headset 5") == headset
    assert tuning_for("pocketsphinx", "Headset 5") is None
    assert [path.name for path in own_tuning_path().parent.iterdir()] == ["tuning.yaml"]
    assert forget()
    assert own_tunings() == ()


def test_it_counts_for_the_very_ears_it_was_made_with():
    assert DESK.fits(EARS)
    assert DESK.applied(EARS).thresholds[Tier.ADVANCE] == LOWER
    assert not DESK.fits(replace(EARS, bias=EARS.bias + 0.01))


def test_a_hand_that_makes_stopping_too_easy_is_held_back():
    loose = replace(DESK, thresholds=dict.fromkeys(Tier, 0.01)).applied(EARS).thresholds
    assert loose[Tier.STOP] == EARS.thresholds[Tier.STOP]
    assert loose[Tier.GUARDED] == EARS.thresholds[Tier.GUARDED]
    assert loose[Tier.FREE] > 0.2


@pytest.mark.parametrize(
    ("old", "new", "why"),
    [
        ("version: 1", "version: 2", "no tuning of version 1"),
        (f"advance: {LOWER}", "advance: 45", "threshold of 'advance' is not in 0 to 1"),
        ("  missed: 1\n", "", "'missed' is no count"),
        ("phrases: 20", "phrases: many", "'phrases' is no count"),
        ("engine: moonshine", "engine: [moonshine]", "'engine' is not given in words"),
        ("tunings:", "tunes:", "no list of tunings"),
        ("  thresholds:", " thresholds:", "broken YAML"),
    ],
)
def test_a_damaged_file_is_told_in_one_line_and_can_be_dropped(old, new, why):
    keep(DESK)
    text = own_tuning_path().read_text("utf-8")
    assert old in text
    own_tuning_path().write_text(text.replace(old, new), "utf-8")
    with pytest.raises(LoadError, match=why) as told:
        own_tunings()
    assert "tuning.yaml:" in str(told.value)
    assert "\n" not in str(told.value)
    assert forget()
    assert own_tunings() == ()
