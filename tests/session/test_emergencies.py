"""Emergencies: from everywhere, at once, and the procedure's prompts keep silent in them."""

from __future__ import annotations

import pytest
from builder import PATH, Visit, visit, visit_at

from sidecue.session.effects import Say, Silence, Urgency
from sidecue.session.events import Restarted
from sidecue.session.state import Mode

PLACES = [name for name, _ in PATH if name != "confirm"]


@pytest.mark.parametrize("place", PLACES)
def test_from_every_step_one_phrase_is_enough(place: str) -> None:
    going = visit_at(place)
    before = going.state
    going.cue("emergency.splash")
    assert going.state.mode is Mode.EMERGENCY
    assert isinstance(going.effects[0], Silence), "what was being said stops"
    assert going.said == ["Stop for the splash.", "Follow your office protocol."]
    assert {e.urgency for e in going.effects if isinstance(e, Say)} == {Urgency.ALARM}
    assert (going.state.step, going.state.facts, going.state.timers) == (
        before.step, before.facts, before.timers,
    )  # fmt: skip


def back_to_work(going: Visit) -> Visit:
    return going.cues("emergency-over", "confirm", "resume", after=1)


@pytest.mark.parametrize("place", PLACES)
def test_it_ends_in_a_pause_and_goes_on_where_it_was(place: str) -> None:
    going = visit_at(place)
    step, under_way, facts = going.state.step, going.state.under_way, going.state.facts
    going.cue("emergency.faint")
    going.cues("emergency-over", "confirm", after=1)
    assert going.state.mode is Mode.PAUSED
    assert going.state.emergency is None
    going.cue("resume")
    assert (going.state.mode, going.state.step, going.state.under_way, going.state.facts) == (
        Mode.RUNNING, step, under_way, facts,
    )  # fmt: skip


def test_a_second_emergency_takes_the_place_of_the_first() -> None:
    going = visit().cues("emergency.splash", "emergency.faint")
    assert going.state.emergency == "faint"
    assert going.said[0] == "Stop for the faint."


def test_from_a_pause_and_from_a_question() -> None:
    assert visit().cues("pause", "emergency.faint").state.mode is Mode.EMERGENCY
    asked = visit_at("look.done").cues("skip", "emergency.faint")
    assert asked.state.mode is Mode.EMERGENCY
    assert back_to_work(asked).state.skips == ()


def test_saying_it_again_gives_the_emergencys_lines_whatever_came_between() -> None:
    going = visit().cues("emergency.splash", "emergency-over", "deny", "repeat")
    assert going.said == ["Stop for the splash.", "Follow your office protocol."]


def test_the_procedures_timers_run_on_and_keep_silent() -> None:
    going = visit_at("pack.done").cue("emergency.faint").wait(185)
    assert going.said == [], "no warning, no reached time"
    assert going.chimes == []
    going.wait(30)
    assert going.said == ["Stop. Take a new capsule."], "what spoils is still told"
    assert going.state.step == "mix"
    assert going.state.mode is Mode.EMERGENCY
    assert going.cue("repeat").said[0] == "Stop for the faint."
    back_to_work(going)
    assert going.said == ["Going on. Do the mix."]


def test_a_restart_in_an_emergency_says_its_lines() -> None:
    going = visit().cue("emergency.splash")
    going.give(Restarted(9.0))
    assert going.state.mode is Mode.EMERGENCY
    assert going.said == ["Stop for the splash.", "Follow your office protocol."]


def test_a_restart_in_a_pause_stays_paused() -> None:
    going = visit().cue("pause")
    going.give(Restarted(9.0))
    assert going.state.mode is Mode.PAUSED
    assert going.said == ["Session restored. Paused. Timers go on."]
