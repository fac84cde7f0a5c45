"""Maxima: what a passed one takes away, what it says, and that it is told of once."""

from __future__ import annotations

import pytest
from builder import DENTINE, Visit, small_plan, step, visit, visit_at

from sidecue.procedure.plan import TimerKind, TimerSpec
from sidecue.session.effects import Chime, ChimeKind, Say, Urgency
from sidecue.session.timers import REMIND_EVERY


def going_with(spec: TimerSpec, *more: TimerSpec) -> Visit:
    """A visit in which these timers have just been started by a mix."""
    steps = (step("mix", establishes=("mixed",), timers=(spec, *more)), step("look"), step("tidy"))
    return visit(small_plan(steps=steps, rules=(), happenings=())).cue("mix.done")


def test_a_passed_maximum_that_leads_nowhere_back_takes_its_facts_all_the_same() -> None:
    """Bonding left too long in the open is none; where to go on from is the clinician's."""
    spec = TimerSpec("work", TimerKind.HARD_MAXIMUM, most=30.0, overdue_voids=("mixed",))
    going = going_with(spec).wait(29.99)
    assert "mixed" in going.state.facts
    going.wait(0.01)
    assert going.state.facts == frozenset()
    assert going.state.step == "look"
    assert going.running == {"work"}, "told again until it is ended"
    assert going.cue("undo").said == ["Nothing to undo."]


@pytest.mark.parametrize("overdue_say", ["Rinse now.", ""])
def test_a_passed_maximum_is_told_so_that_no_other_prompt_takes_its_place(overdue_say: str) -> None:
    spec = TimerSpec("gel", TimerKind.HARD_MAXIMUM, most=15.0, overdue_say=overdue_say)
    going = going_with(spec).wait(15)
    told = Say(overdue_say or "Gel: time is over.", Urgency.ALARM)
    assert going.effects == (Chime(ChimeKind.DUE), told)
    assert going.wait(REMIND_EVERY).effects == (Chime(ChimeKind.DUE), told), "and told again so"


def test_asking_again_after_an_alarm_says_the_alarm() -> None:
    going = visit_at("rinse.begin").wait(15)
    assert going.cue("repeat").said == ["Rinse now."]


def test_a_warning_that_comes_with_the_end_or_after_it_is_none() -> None:
    for warn in (15.0, 16.0):
        spec = TimerSpec("gel", TimerKind.HARD_MAXIMUM, warn=warn, most=15.0)
        going = going_with(spec).wait(15)
        assert going.said == ["Gel: time is over."]
        assert going.chimes == ["due"]
        assert going.wait(1).effects == ()


def test_a_maximum_that_has_not_passed_is_not_told_again() -> None:
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, most=300.0)
    going = going_with(DENTINE, onset)
    assert going.machine.next_reminder(going.state) is None
    going.wait(14.99)
    assert going.machine.next_reminder(going.state) is None


def test_a_count_down_tells_its_time_and_holds_nothing_back() -> None:
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, least=60.0, most=300.0)
    steps = (step("inject", timers=(onset,)), step("test", stops=("onset",)), step("tidy"))
    going = visit(small_plan(steps=steps, rules=(), happenings=()))
    going.cue("inject.done").cue("test.done", after=10)
    assert not going.refusals
    assert [(each.name, each.step, each.verdict) for each in going.state.kept] == [
        ("onset", "inject", "told"),
    ]  # fmt: skip


def acid_then_rinse(least: float | None) -> Visit:
    """The rinse of the one tooth begins while the acid is still on the other."""
    acid = TimerSpec("acid", TimerKind.HARD_MAXIMUM, most=60.0)
    rinse = TimerSpec("rinse", TimerKind.HARD_MINIMUM, least=least, no_less_than="acid")
    steps = (step("etch", timers=(acid,)), step("rinse", begin=True, timers=(rinse,)), step("tidy"))
    return visit(small_plan(steps=steps, rules=(), happenings=())).wait(5).cue("etch.done")


@pytest.mark.parametrize(
    ("least", "etched", "rinses"),
    [(15.0, 25.0, 25.0), (15.0, 4.0, 15.0), (None, 25.0, 25.0), (None, 0.5, 0.5)],
)
def test_a_minimum_is_its_own_and_what_it_follows_has_run_so_far(
    least: float | None, etched: float, rinses: float
) -> None:
    going = acid_then_rinse(least).cue("rinse.begin", after=etched)
    going.cue("rinse.done", after=rinses - 0.1)
    assert [each.why for each in going.refusals] == ["Wait one more second."]
    assert not going.cue("rinse.done", after=0.1).refusals
