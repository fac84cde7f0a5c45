"""Undo takes back claims, never what was done to the patient or the material."""

from __future__ import annotations

from dataclasses import replace

from builder import CURE, cue, small_plan, step, visit, visit_at

from sidecue.procedure.plan import Happening, Slot, SlotValue, Tier, TimerKind, TimerSpec
from sidecue.session.undoing import UNDO_DEPTH


def test_a_claim_is_taken_back_with_the_step() -> None:
    going = visit_at("etch.done").cue("undo")
    assert going.state.step == "look"
    assert going.said == ["Back to look."]
    assert "looked" not in going.state.facts
    assert going.state.done == ("agree",)


def test_a_physical_fact_stands_and_says_so() -> None:
    going = visit_at("dentine.done").cue("undo")
    assert going.state.step == "etch"
    assert "etched" in going.state.facts
    assert " ".join(going.said) == "Back to etch. Still true: etched."


def test_acid_that_is_on_the_tooth_keeps_its_clock() -> None:
    going = visit_at("rinse.begin").wait(8)
    going.cue("undo")  # of "gel on dentine"
    going.cue("dentine.done", after=2)  # said again: the gel was there all the time
    dentine = next(timer for timer in going.state.timers if timer.spec.name == "dentine")
    assert dentine.started == going.state.now - 10
    assert "Rinse now." in going.wait(5).said


def test_an_old_capsule_does_not_become_fresh_by_saying_it_twice() -> None:
    going = visit_at("pack.done").wait(200)
    going.cues("undo", "mix.done")
    going.wait(10)
    assert going.said[0] == "Stop. Take a new capsule."


def test_a_misheard_rinse_leaves_the_etching_clocks_running() -> None:
    going = visit_at("rinse.begin").cue("rinse.begin", after=11)
    assert going.running == {"rinse", "onset"}
    going.cue("undo", after=1)
    assert going.said == ["Back to rinse."]
    assert going.state.step == "rinse"
    assert not going.state.under_way
    assert going.running == {"enamel", "dentine", "onset"}
    assert [timer.name for timer in going.state.kept] == []
    assert "Rinse now." in going.wait(3).said, "15 s after the gel, however the words went"


def test_a_clock_that_ran_out_meanwhile_rings_at_once() -> None:
    going = visit_at("rinse.begin").cue("rinse.begin", after=11)
    going.cue("undo", after=20)
    assert going.machine.next_deadline(going.state) < going.state.now
    before = going.state.now
    assert "Rinse now." in going.wait(0).said
    assert going.state.now == before


def test_a_timer_that_never_started_does_not_ring() -> None:
    going = visit_at("rinse.begin").cue("rinse.begin", after=11)
    going.cue("undo")
    assert not any("Rinse: " in said for said in going.wait(120).said)


def test_a_clock_that_never_started_leaves_the_record_though_it_ran_out() -> None:
    """Neither local was given, only said: the onset of the one before is all that was timed."""
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, most=10.0)
    second = TimerSpec("second-onset", TimerKind.COUNT_DOWN, most=10.0)
    steps = (step("first", timers=(onset,)), step("second", timers=(second,)), step("test"))
    going = visit(small_plan(steps=steps, rules=(), happenings=()))
    going.cue("first.done").cue("second.done", after=11).wait(11)
    assert [timer.name for timer in going.state.kept] == ["onset", "second-onset"]
    going.cue("undo")
    assert [timer.name for timer in going.state.kept] == ["onset"]


def test_what_ran_the_first_time_stays_when_the_second_is_taken_back() -> None:
    """A test of feeling came too soon and the onset is waited for again: the first wait was."""
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, most=10.0)
    steps = (step("wait", establishes=("waited",), timers=(onset,)), step("test"))
    feels = Happening(
        cue("feels", tier=Tier.GUARDED), "Wait once more.", voids=("waited",), back_to="wait",
        while_any=("waited",),
    )  # fmt: skip
    going = visit(small_plan(steps, (), (feels,), physical=())).cue("wait.done").wait(11)
    going.cues("feels", "confirm").cue("wait.done", after=1).wait(11)
    first, second = going.state.kept
    assert first.started < second.started
    going.cue("undo")
    assert going.state.kept == (first,)


def test_taking_back_a_value_takes_no_clock_along() -> None:
    shade = Slot("shade", (SlotValue("A2", cue("set.shade.A2", tier=Tier.GUARDED), "Shade A2"),))
    steps = (step("cure", begin=True, timers=(CURE,), asks=("shade",)), step("tidy"))
    going = visit(replace(small_plan(steps, (), happenings=()), slots=(shade,)))
    going.cues("cure.begin", "set.shade.A2", "confirm", "undo")  # all in one moment of the clock
    assert going.state.values == ()
    assert (going.state.under_way, going.running) == (True, {"cure"})
    assert going.cue("cure.done", after=10).refusals[0].why == "Wait 10 more seconds."


def test_words_do_not_switch_the_light_off_and_a_second_start_counts_anew() -> None:
    going = visit_at("cure.done").wait(15)
    going.cue("undo")
    assert "light-on" in going.state.facts
    going.cue("cure.begin", after=1)
    assert going.state.under_way
    assert going.cue("cure.done", after=10).refusals[0].why == "Wait 10 more seconds."


def test_a_physical_step_can_be_confirmed_again() -> None:
    going = visit_at("mix.done").cue("undo")  # of "cured", which took the shields down
    assert (going.state.step, going.state.under_way) == ("cure", True)
    assert "shields-up" not in going.state.facts
    assert going.state.standing == "cure"
    assert not going.cue("cure.done").refusals
    assert (going.state.step, going.state.standing) == ("mix", None)


def test_what_stood_and_is_lost_is_judged_again_like_anything_new() -> None:
    """The light that words did not switch off is off, and the dam that it needs is torn."""
    torn = Happening(
        cue("torn", tier=Tier.GUARDED), "Cover again, then cure.", voids=("light-on", "covered"),
        back_to="cure", while_any=("light-on",),
    )  # fmt: skip
    steps = (
        step("cover", establishes=("covered",)),
        step("cure", begin=True, needs=("covered",), begin_establishes=("light-on",)),
        step("tidy"),
    )
    going = visit(small_plan(steps, (), (torn,))).cues("cover.done", "cure.begin", "undo")
    assert going.state.standing == "cure"
    going.cues("torn", "confirm", "cure.begin")
    assert [each.why for each in going.refusals] == ["Not yet. First: covered."]
    assert going.state.facts == frozenset()


def test_taking_back_a_beginning_does_not_take_what_only_the_end_takes() -> None:
    going = visit_at("cure.done").cue("undo")  # of "light on": the shields are still up
    assert (going.state.step, going.state.under_way) == ("cure", False)
    assert {"light-on", "shields-up"} <= going.state.facts
    going.cues("emergency.faint", "emergency-over", "confirm", "resume", "saliva", "deny")
    assert not going.cue("cure.begin").refusals


def test_nothing_before_a_physical_act_can_be_undone() -> None:
    going = visit_at("dentine.done").cues("undo", "undo")
    assert going.said == ["Nothing to undo."]
    assert going.state.step == "etch"


def test_nothing_is_undone_at_the_start() -> None:
    assert visit().cue("undo").said == ["Nothing to undo."]


def test_what_a_happening_voided_does_not_come_back() -> None:
    going = visit_at("shield.done").cues("saliva", "confirm", "undo")
    assert going.said == ["Nothing to undo."]
    assert not going.state.facts & {"etched", "dentine-etched", "rinsed"}


def test_what_a_passed_maximum_voided_does_not_come_back() -> None:
    going = visit_at("pack.done").wait(210)
    assert going.cue("undo").said == ["Nothing to undo."]
    assert "mixed" not in going.state.facts


def test_a_skip_is_undone_with_its_reason() -> None:
    going = visit_at("look.done").cues("skip", "not-needed", "undo")
    assert going.state.step == "look"
    assert going.state.skips == ()


def test_undo_reaches_back_so_far_and_no_further() -> None:
    steps = tuple(step(f"part-{n}", establishes=(f"fact-{n}",)) for n in range(UNDO_DEPTH + 3))
    going = visit(small_plan(steps=steps, rules=(), happenings=(), physical=()))
    for each in steps[:-1]:
        going.cue(f"{each.id}.done")
    for _ in range(UNDO_DEPTH):
        going.cue("undo")
    assert going.state.step == "part-2"
    assert going.state.facts == {"fact-0", "fact-1"}
    assert going.cue("undo").said == ["Nothing to undo."]
