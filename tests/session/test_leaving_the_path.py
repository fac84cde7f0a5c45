"""Skips, jumps, things that go wrong: reasons, refusals, and what is said on arriving."""

from __future__ import annotations

import pytest
from builder import cue, finished_visit, small_plan, step, visit, visit_at

from sidecue.procedure.plan import Happening, Rule, Tier, TimerKind, TimerSpec
from sidecue.session.state import Mode, Skip


def test_a_step_nobody_needs_is_left_out_with_a_reason_that_stays() -> None:
    going = visit_at("look.done").cues("skip", "not-needed")
    assert going.state.step == "etch"
    assert going.state.skips == (Skip("look", "not-needed"),)
    assert going.said[0] == "Left out: look."
    assert "looked" not in going.state.facts
    assert "look" not in going.state.done


def test_a_needed_step_is_not_left_out() -> None:
    going = visit().cue("skip")
    assert going.state.question is None
    assert going.refusals[0].why == "Cannot skip. Needed: agreed."
    assert going.said == [going.refusals[0].why]
    assert going.chimes == ["refused"]


def test_a_rule_is_named_when_it_is_what_needs_the_step() -> None:
    going = visit_at("count.done").cue("skip")
    assert (going.refusals[0].why, going.refusals[0].rule) == (
        "Cannot skip. Needed: counted.", "count-first",
    )  # fmt: skip


def test_a_step_under_way_is_not_left_out() -> None:
    going = visit_at("rinse.done").cue("skip")
    assert going.refusals[0].why == "Cannot skip. This step is under way."


def test_a_step_that_takes_a_danger_away_is_not_left_out() -> None:
    """A bare needle and a later "never both" would make a dead end (recapping before cutting,
    CDC infection control guidance 2003, from memory)."""
    steps = (
        step("inject", establishes=("needle-bare",)),
        step("recap", voids=("needle-bare",)),
        step("cut", establishes=("cut",)),
    )
    never = Rule("capped", "First cover the needle.", "test", never=("needle-bare", "cut"))
    plan = small_plan(steps=steps, rules=(never,), happenings=())
    going = visit(plan).cues("inject.done", "skip")
    assert (going.refusals[0].why, going.refusals[0].rule) == ("First cover the needle.", "capped")


def test_the_last_step_may_be_left_out_and_ends_the_visit() -> None:
    going = visit_at("tidy.done").cues("skip", "clinician-decides")
    assert going.state.mode is Mode.FINISHED
    assert going.state.skips == (Skip("tidy", "clinician-decides"),)


def test_a_jump_asks_for_a_reason_and_leaves_out_every_step_between() -> None:
    going = visit_at("look.done").cue("etch.done")
    assert going.said == ["Leave out 1 steps? Give the reason."]
    going.cue("not-needed", after=1)
    assert going.state.step == "etch"
    assert "etched" not in going.state.facts, "arriving is not doing"
    assert going.state.skips == (Skip("look", "not-needed"),)


def test_a_jump_over_a_needed_step_is_refused() -> None:
    going = visit_at("etch.done").cue("dentine.done")
    assert going.refusals[0].why == "Not yet. First: etched."
    assert going.state.question is None


def test_a_jump_over_what_only_a_later_step_needs_is_refused() -> None:
    """Neither the look nor the cut needs the rinse; the closing does."""
    steps = (
        step("rinse", establishes=("rinsed",)),
        step("look"),
        step("cut", establishes=("cut",)),
        step("close", needs=("rinsed", "cut")),
    )
    going = visit(small_plan(steps=steps, rules=(), happenings=()))
    for ahead in ("look.done", "cut.done"):
        going.cue(ahead)
        assert [each.why for each in going.refusals] == ["Cannot skip. Needed: rinsed."]
        assert going.state.question is None
    going.cue("rinse.done").cue("cut.done")
    assert going.state.question is not None, "the look is nobody's need"


def test_what_is_left_out_handed_and_warned_last() -> None:
    """The explorer and the glasses were told of on arriving at what is left out now."""
    steps = (
        step("look", hand=("explorer",), cautions=("eyes",)),
        step("feel", hand=("explorer",), cautions=("eyes", "acid")),
    )
    going = visit(small_plan(steps=steps, rules=(), happenings=())).cues("skip", "not-needed")
    assert going.said == ["Left out: look.", "Do the feel.", "Keep suction near."]
    assert going.chimes == ["heard"]


def test_an_interlock_answers_from_any_distance() -> None:
    going = visit()
    assert "cure.begin" in going.active
    going.cue("cure.begin")
    assert (going.refusals[0].why, going.refusals[0].rule) == (
        "First raise the shields.", "shields-first",
    )  # fmt: skip
    assert going.state.step == "agree"


def test_cautions_of_steps_jumped_over_are_said_on_arriving() -> None:
    """What was left out was never announced: its cautions do not count as said."""
    steps = (
        step("plain"),
        step("left", cautions=("acid",), hand=("suction",)),
        step("acid", cautions=("acid",), hand=("suction",)),
    )
    plan = small_plan(steps=steps, rules=(), happenings=())
    going = visit(plan).cue("plain.done")
    going = visit(plan).cues("acid.done", "not-needed")
    assert [skip.step for skip in going.state.skips] == ["plain", "left"]
    assert going.said[-2:] == ["Hand suction.", "Keep suction near."]


def test_what_the_step_before_handed_or_warned_of_is_not_said_again() -> None:
    going = visit_at("look.done")
    assert going.said == ["Do the look.", "Hand explorer.", "Cover all eyes."]
    assert going.cue("look.done").said == [
        "Do the etch.", "Hand etch syringe and suction.", "Keep suction near.",
    ]  # fmt: skip


@pytest.mark.parametrize("cue", ["dentine.done", "rinse.begin", "rinse.done", "shield.done"])
def test_saliva_goes_back_to_etching_until_the_resin_is_cured(cue: str) -> None:
    going = visit_at(cue).cue("saliva")
    assert going.said == ["Etch again, then rinse. Say confirm that."]
    going.cue("confirm")
    assert going.state.step == "etch"
    assert not going.state.under_way
    assert not going.state.facts & {"etched", "dentine-etched", "rinsed"}
    assert going.said[0] == "Do the etch."


def test_saliva_is_not_offered_before_etching_or_after_curing() -> None:
    assert "saliva" not in visit_at("etch.done").active
    assert "saliva" not in visit_at("mix.done").active


def test_a_refusal_changes_nothing_but_what_was_last_said() -> None:
    going = visit_at("rinse.done")
    before = going.state
    going.cue("rinse.done", after=0)
    assert going.refusals
    from dataclasses import replace

    assert going.state == replace(before, last_said=going.refusals[0].why)


def test_a_step_is_begun_before_it_is_done() -> None:
    going = visit_at("rinse.begin").cue("rinse.done", after=11)
    assert going.refusals[0].why == "Say first: rinse begin."


def test_it_ends_once_and_says_so() -> None:
    going = finished_visit()
    assert going.state.mode is Mode.FINISHED
    assert going.said == ["Procedure complete. The record is saved."]
    assert going.active == set()


def test_what_leads_back_to_the_step_at_hand_begins_it_anew() -> None:
    """The field got wet under the light: it goes out, its clock ends, the step starts over."""
    wet = Happening(
        cue("wet", tier=Tier.GUARDED), "Dry, then cure again.", voids=("light-on",),
        back_to="cure", while_any=("light-on",),
    )  # fmt: skip
    timed = TimerSpec("cure", TimerKind.HARD_MINIMUM, least=20.0)
    steps = (
        step("cure", begin=True, begin_establishes=("light-on",), establishes=("cured",),
             voids=("light-on",), timers=(timed,)),
        step("pack", needs=("cured",), establishes=("packed",)),
    )  # fmt: skip
    going = visit(small_plan(steps=steps, rules=(), happenings=(wet,))).cue("cure.begin").cue("wet")
    going.cue("confirm")
    assert (going.state.step, going.state.under_way, going.running) == ("cure", False, set())
    assert "light-on" not in going.state.facts
    assert "heard" in going.chimes
