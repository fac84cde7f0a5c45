"""Timers at their boundaries. Figures: etch-and-rinse teaching text (enamel 15 to 30 s, dentine at
most 15 s, rinse at least 15 s and at least as long as the etch), admixed amalgam packed within
3:30 (university teaching text on dental amalgam)."""

from __future__ import annotations

import pytest
from builder import (
    CURE,
    DENTINE,
    ENAMEL,
    PACKING,
    Visit,
    finished_visit,
    small_plan,
    step,
    visit,
    visit_at,
)

from sidecue.procedure.plan import TimerKind, TimerSpec
from sidecue.session.events import CueGiven, Restarted, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode
from sidecue.session.timers import REMIND_EVERY


def verdicts(going: Visit) -> list[tuple[str, str]]:
    return [(timer.name, timer.verdict) for timer in going.state.kept]


def gel_on_dentine() -> Visit:
    return visit_at("rinse.begin")


@pytest.mark.parametrize(("seconds", "chimes"), [(11.99, 0), (12.0, 1), (12.01, 1)])
def test_a_maximum_warns_without_words_when_they_would_deafen(seconds: float, chimes: int) -> None:
    going = gel_on_dentine().wait(10)
    going.wait(seconds - 10)
    assert going.chimes == ["due"] * chimes
    assert going.said == []


def test_how_long_left_tells_by_how_much_a_maximum_is_passed() -> None:
    """Acid past its time was told as "0 seconds"."""
    going = gel_on_dentine().wait(10)
    assert "Dentine: 5 seconds." in going.cue("how-long", after=0).said
    going.wait(40)
    assert "Dentine: 35 seconds over." in going.cue("how-long", after=0).said


def test_with_time_to_spare_the_warning_is_spoken() -> None:
    early = TimerSpec("dentine", TimerKind.HARD_MAXIMUM, warn=9.0, most=30.0)
    steps = (step("dentine", timers=(early,)), step("rinse"))
    going = visit(small_plan(steps=steps, rules=(), happenings=())).cue("dentine.done").wait(9)
    assert going.said == ["Dentine: 21 seconds left."]


@pytest.mark.parametrize(
    ("seconds", "pressing"), [(14.99, False), (15.0, True), (34.5, True), (35.0, False)]
)
def test_while_something_is_about_to_spoil_only_the_prompt_is_said(
    seconds: float, pressing: bool
) -> None:
    """In the last twenty seconds, and no longer once it is spoiled."""
    gel = TimerSpec("gel", TimerKind.HARD_MAXIMUM, most=35.0)
    handed = step("rinse", hand=("suction",), cautions=("acid",))
    steps = (step("gel", timers=(gel,)), step("look"), handed)
    going = visit(small_plan(steps=steps, rules=(), happenings=())).cue("gel.done")
    going.wait(seconds).cue("look.done")
    more = [] if pressing else ["Hand suction.", "Keep suction near."]
    assert going.said == ["Do the rinse.", *more]


@pytest.mark.parametrize(("seconds", "alarm"), [(14.99, False), (15.0, True), (15.01, True)])
def test_dentine_alarms_at_fifteen_seconds(seconds: float, alarm: bool) -> None:
    going = gel_on_dentine()
    going.wait(12)
    going.wait(seconds - 12)
    assert ("Rinse now." in going.said) is alarm
    going.cue("rinse.begin")
    assert ("dentine", "overdue" if alarm else "kept") in verdicts(going)


def test_an_alarm_is_told_again_until_it_is_answered() -> None:
    going = gel_on_dentine().wait(15)
    assert going.said.count("Rinse now.") == 1
    assert "Rinse now." not in going.wait(REMIND_EVERY - 1).said
    assert going.machine.next_reminder(going.state) == going.state.now + 1
    assert "Rinse now." in going.wait(1).said
    assert "due" in going.chimes
    assert going.wait(100 * REMIND_EVERY).said.count("Rinse now.") == 1  # one for a long gap
    assert "dentine" in going.running, "it runs until the acid is rinsed off"
    going.cue("rinse.begin")
    assert going.machine.next_reminder(going.state) is None
    assert "Rinse now." not in going.wait(5 * REMIND_EVERY).said


def test_the_next_reminder_is_never_behind_nor_twenty_seconds_away() -> None:
    going = gel_on_dentine().wait(15)
    for _ in range(3):
        going.wait(REMIND_EVERY)
        assert "Rinse now." in going.said
        due = going.machine.next_reminder(going.state)
        assert due is not None
        assert going.state.now < due <= going.state.now + REMIND_EVERY


def test_in_an_emergency_no_alarm_is_told_again() -> None:
    going = gel_on_dentine().wait(15).cue("emergency.faint")
    assert going.machine.next_reminder(going.state) is None
    assert "Rinse now." not in going.wait(5 * REMIND_EVERY).said


@pytest.mark.parametrize(
    ("seconds", "wait"), [(9.98, "Wait one more second."), (9.995, None), (10.0, None)]
)
def test_a_window_holds_its_end_until_its_least(seconds: float, wait: str | None) -> None:
    # enamel got its acid five seconds before the dentine: fifteen is ten from here
    going = gel_on_dentine().cue("rinse.begin", after=seconds)
    assert ("enamel" in going.running) is (wait is not None)
    assert [refusal.why for refusal in going.refusals] == ([wait] if wait else [])
    if wait:
        assert going.said == [wait]
        assert going.state.step == "rinse"
        assert not going.state.under_way


@pytest.mark.parametrize(
    ("seconds", "wait"),
    [(3.2, "Wait 12 more seconds."), (14.98, "Wait one more second."), (15.0, None)],
)
def test_a_minimum_holds_its_step(seconds: float, wait: str | None) -> None:
    going = visit_at("rinse.done").cue("rinse.done", after=seconds)
    assert [refusal.why for refusal in going.refusals] == ([wait] if wait else [])
    assert ("rinsed" in going.state.facts) is (wait is None)
    assert going.state.step == ("rinse" if wait else "shield")


def test_the_rinse_lasts_as_long_as_the_etch() -> None:
    going = visit_at("rinse.begin").cue("rinse.begin", after=20)  # enamel etched for 25 s
    assert going.cue("rinse.done", after=15).refusals[0].why == "Wait 10 more seconds."
    assert going.cue("rinse.done", after=9.5).refusals[0].why == "Wait one more second."
    assert not going.cue("rinse.done", after=0.5).refusals
    assert verdicts(going)[-3:] == [("enamel", "kept"), ("dentine", "overdue"), ("rinse", "kept")]


def test_a_reached_minimum_is_told_once() -> None:
    going = visit_at("rinse.done").wait(15)
    assert going.said == ["Rinse: time reached."]
    assert going.chimes == ["due"]
    assert going.wait(30).said == []


def test_overdue_amalgam_voids_and_goes_back_to_mixing() -> None:
    going = visit_at("pack.done").wait(180)
    assert "Packing: 30 seconds left." in going.said
    going.wait(29.99)
    assert "mixed" in going.state.facts
    going.wait(0.01)
    assert going.said == ["Stop. Take a new capsule.", "Do the mix."]
    assert "mixed" not in going.state.facts
    assert going.state.step == "mix"
    assert "packing" not in going.running
    assert verdicts(going)[-1] == ("packing", "overdue")
    assert " ".join(going.cue("repeat").said) == "Stop. Take a new capsule. Do the mix."


def test_a_cue_that_comes_with_the_alarm_is_too_late() -> None:
    going = visit_at("pack.done").cue("pack.done", after=210)
    assert "Stop. Take a new capsule." in going.said
    assert going.refusals[-1].why == "Not yet. First: mixed."
    assert "packed" not in going.state.facts
    assert going.state.step == "mix"


def test_the_new_capsule_has_its_whole_time() -> None:
    going = visit_at("pack.done").wait(210)
    going.cue("mix.done", after=30).wait(209)
    assert going.state.step == "pack"
    assert not going.cue("pack.done").refusals


def test_a_spoiled_place_before_the_step_to_go_back_to_is_left_alone() -> None:
    plan = small_plan(
        steps=(
            step("mix", establishes=("mixed",), timers=(PACKING,)),
            step("look", establishes=("looked",)),
            step("pack", needs=("mixed", "looked"), establishes=("packed",), stops=("packing",)),
        ),
        rules=(),
        happenings=(),
    )
    # leave the first two steps' order, but let the overdue go back beyond where we are
    late = TimerSpec(
        "packing", TimerKind.HARD_MAXIMUM, most=10.0, overdue_voids=("mixed",),
        overdue_back_to="pack",
    )  # fmt: skip
    steps = (step("mix", establishes=("mixed",), timers=(late,)), *plan.steps[1:])
    going = visit(small_plan(steps=steps, rules=(), happenings=())).cue("mix.done").wait(10)
    assert going.state.step == "look"
    assert "mixed" not in going.state.facts
    assert going.said == ["Packing: time is over."]


def test_discarded_material_takes_its_alarm_along() -> None:
    going = visit_at("pack.done").wait(100)
    going.cues("bad-mix", "confirm")
    assert going.state.step == "mix"
    assert "packing" not in going.running
    going.cue("mix.done", after=100).wait(15)  # 215 s after the first mix, 15 s after the second
    assert "mixed" in going.state.facts


def test_a_step_left_in_the_middle_takes_its_minimum_along() -> None:
    going = visit_at("rinse.done").wait(5)
    going.cues("saliva", "confirm")
    assert going.state.step == "etch"
    assert ("rinse", "short") in verdicts(going)
    assert going.wait(60).said == []


def test_acid_outlives_the_step_and_a_pause() -> None:
    going = visit_at("rinse.begin").cue("pause")
    going.wait(15)
    assert "Rinse now." in going.said
    assert going.state.mode is Mode.PAUSED
    going.cue("resume")
    assert going.running == {"enamel", "dentine", "onset"}


def test_never_two_timers_of_one_name() -> None:
    going = visit_at("rinse.begin")
    going.cues("saliva", "confirm", "etch.done")
    names = [timer.spec.name for timer in going.state.timers]
    assert len(names) == len(set(names))
    enamel = next(timer for timer in going.state.timers if timer.spec == ENAMEL)
    assert enamel.started == going.state.now


def test_rings_come_in_order_of_time_then_name() -> None:
    two = (
        TimerSpec("beta", TimerKind.COUNT_DOWN, most=10.0),
        TimerSpec("alpha", TimerKind.COUNT_DOWN, most=10.0),
        TimerSpec("gamma", TimerKind.COUNT_DOWN, most=5.0),
    )
    plan = small_plan(steps=(step("one", timers=two), step("two")), rules=(), happenings=())
    going = visit(plan).cue("one.done").wait(60)
    assert going.said == [
        "Gamma: time is over.", "Alpha: time is over.", "Beta: time is over.",
    ]  # fmt: skip
    assert going.running == set()


def test_what_fell_due_while_the_program_was_gone_rings_once() -> None:
    going = visit_at("rinse.begin")
    going.give(Restarted(going.state.now + 3600))
    assert going.said.count("Rinse now.") == 1
    assert going.said[-1] == "Session restored. Do the rinse."
    assert going.wait(1).said == []


def test_no_deadline_is_left_behind() -> None:
    going = visit_at("rinse.begin")
    while (due := going.machine.next_deadline(going.state)) is not None:
        assert due > going.state.now
        going.give(TimePassed(due))
    assert going.state.now >= 15


def test_finishing_ends_what_runs_and_says_what_it_was_worth() -> None:
    short = TimerSpec("set", TimerKind.HARD_MINIMUM, least=60.0)
    steps = (step("one", timers=(CURE, short, DENTINE)), step("two"))
    going = visit(small_plan(steps=steps, rules=(), happenings=())).cue("one.done")
    going.cue("two.done", after=30)
    assert going.state.mode is Mode.FINISHED
    assert going.state.timers == ()
    assert verdicts(going) == [("cure", "kept"), ("set", "short"), ("dentine", "overdue")]
    assert going.machine.next_deadline(going.state) is None


def test_nothing_rings_after_the_end() -> None:
    going = finished_visit()
    assert going.wait(10_000).effects == ()


def test_the_same_events_make_the_same_state() -> None:
    machine = SessionMachine(small_plan())
    events = [Started(0.0), CueGiven(1.0, "agree.done"), TimePassed(130.0), CueGiven(131, "skip")]
    states = []
    for _ in range(2):
        state = machine.first()
        for event in events:
            state, _ = machine.step(state, event)
        states.append(state)
    assert states[0] == states[1]
    assert DENTINE.most == 15.0
