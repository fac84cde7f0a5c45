"""How sure the ears must be of what was read, by its tier and by whether it was addressed.

Thresholds are the shipped ones, measured by benchmarks/listening; no outside source.
"""

from __future__ import annotations

import pytest
from english import ENGLISH, cue

from sidecue.hearing import acceptance, weighing
from sidecue.hearing.grammar import Path
from sidecue.hearing.judgement import judged
from sidecue.procedure.plan import Tier

EARS = acceptance.shipped("phones", weighing.FEATURES)
ALARM = cue("airway is blocked", Tier.ALARM)
STOP = cue("hold everything", Tier.STOP)
BETWEEN = (EARS.thresholds[Tier.STOP] + EARS.thresholds[Tier.ALARM]) / 2


def heard(said, score, *, addressed):
    path = Path(said.phrases[0], said, addressed=addressed)
    return judged(path, score, EARS.accepts, ENGLISH, (0.0, 1.0))


def test_talk_that_comes_near_an_alarm_raises_none() -> None:
    near = heard(ALARM, BETWEEN, addressed=False)
    assert near.cue is None
    assert near.why == "not sure enough: begin with 'okay tray'; nothing is done"


@pytest.mark.parametrize("said", [ALARM, STOP])
def test_an_alarm_told_to_the_tool_passes_like_a_stop_word(said) -> None:
    assert heard(said, BETWEEN, addressed=True).cue == said.id
    assert heard(said, EARS.thresholds[Tier.STOP] - 0.01, addressed=True).cue is None


def test_a_clear_alarm_needs_no_address() -> None:
    assert heard(ALARM, EARS.thresholds[Tier.ALARM], addressed=False).cue == ALARM.id


def test_a_stop_word_is_taken_sooner_than_an_alarm_and_than_anything_that_moves_on() -> None:
    assert heard(STOP, BETWEEN, addressed=False).cue == STOP.id
    others = [EARS.thresholds[tier] for tier in Tier if tier is not Tier.STOP]
    assert EARS.thresholds[Tier.STOP] < min(others)
