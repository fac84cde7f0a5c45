from dataclasses import replace

import pytest
from lesson_plan import lesson_plan

from sidecue.procedure.plan import Question, TimerKind, TimerSpec
from sidecue.training.lesson import DEFERENCE, LineKind, hand_over, lesson


@pytest.fixture
def plan():
    return lesson_plan()


def texts(plan, step, kind):
    return [line.text for line in lesson(plan) if (line.step, line.kind) == (step, kind)]


def test_every_step_is_taught_in_order_with_what_and_why(plan):
    lines = lesson(plan)
    assert [line.text for line in lines if line.kind is LineKind.STEP] == [
        step.say for step in plan.steps
    ]
    assert [line.step for line in lines if line.kind is LineKind.WHY] == [
        step.id for step in plan.steps
    ]


def test_the_lesson_opens_with_the_case_and_defers_to_the_clinician(plan):
    opening = [line.text for line in lesson(plan) if line.kind is LineKind.OPENING]
    assert opening[0] == "A small filling. Four six, lower right first molar."
    assert opening[1] == DEFERENCE
    assert lesson(plan)[-1].kind is LineKind.CLOSING


def test_explorer_and_mirror_are_handed_together(plan):
    # Mirror and explorer are passed together at the start: teaching on four-handed dentistry.
    assert texts(plan, "look", LineKind.HAND) == ["Hand the mirror and the explorer together."]


def test_a_mirror_alone_is_just_handed(plan):
    alone = replace(plan.steps[0], hand=("mirror",))
    assert hand_over(plan, alone) == ("Hand the mirror.",)


def test_the_syringe_is_passed_out_of_sight_and_the_forceps_with_both_hands(plan):
    # Hidden syringe, two-handed clamp forceps: teaching on four-handed dentistry.
    assert texts(plan, "inject", LineKind.HAND) == [
        "Pass the loaded syringe low, out of the patient's sight.",
        "Hand the gauze.",
    ]
    assert texts(plan, "clamp", LineKind.HAND) == ["Pass the clamp forceps with both hands."]


def test_instruments_handed_one_by_one_keep_their_order(plan):
    assert texts(plan, "etch", LineKind.HAND) == [
        "Hand the etch syringe, then the microbrush.",
        "Have the suction ready in place.",
    ]


def test_a_step_that_hands_nothing_says_nothing_of_handing(plan):
    assert texts(plan, "bite", LineKind.HAND) == []


def test_a_caution_is_explained_once_and_then_named(plan):
    assert texts(plan, "etch", LineKind.CAUTION) == ["Shield the eyes from acid. Acid burns."]
    assert texts(plan, "rinse", LineKind.CAUTION) == ["Shield the eyes from acid."]


def test_timers_are_taught_with_their_limits(plan):
    assert texts(plan, "etch", LineKind.TIMER) == [
        "The enamel etch timer: at least 15 seconds, at most 30 seconds."
    ]
    assert texts(plan, "inject", LineKind.TIMER) == ["The onset timer tells the time: 300 seconds."]


def test_a_timer_whose_time_nobody_entered_is_not_given_one(plan):
    unknown = replace(plan.steps[0], timers=(TimerSpec("soak", TimerKind.HARD_MINIMUM),))
    assert texts(replace(plan, steps=(unknown,)), "look", LineKind.TIMER) == []


def test_a_plan_that_may_not_be_started_can_be_taught(plan):
    asked = replace(plan, questions=(Question("tooth", "Which tooth?", "the case"),))
    assert lesson(asked) == lesson(plan)
