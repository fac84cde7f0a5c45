"""A guarded cue is read back, and a different word answers within five seconds; silence is no."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builder import DENTINE, Visit, small_plan, step, visit, visit_at

from sidecue.procedure.plan import Step, Tier, TimerKind, TimerSpec
from sidecue.session.effects import Refuse, Say, Silence, Urgency
from sidecue.session.events import DeviceLost, Restarted
from sidecue.session.prompts import lasts_about
from sidecue.session.state import Asking, Mode
from sidecue.session.view import view

QUESTIONS = {
    "skip": (lambda: visit_at("look.done").cue("skip"), Asking.SKIP),
    "jump": (lambda: visit_at("look.done").cue("etch.done"), Asking.JUMP),
    "saliva": (lambda: visit_at("dentine.done").cue("saliva"), Asking.HAPPENING),
    "leaving": (lambda: visit_at("confirm"), Asking.STEP),
    "over": (
        lambda: visit_at("look.done").cues("emergency.faint", "emergency-over"),
        Asking.EMERGENCY_OVER,
    ),
}
#: What each is about by name, the cue that asked it, and its words.
ASKED = {
    "skip": ("look", "skip", "Skip look? Give the reason."),
    "jump": ("etch", "etch.done", "Leave out 1 steps? Give the reason."),
    "saliva": ("saliva", "saliva", "Etch again, then rinse. Say confirm that."),
    "leaving": ("leave", "leave.done", "Do the leave. Say confirm that."),
    "over": ("faint", "emergency-over", "End the emergency? Say confirm that."),
}


def as_it_was(going: Visit) -> tuple[object, ...]:
    state = going.state
    return state.mode, state.step, state.facts, state.skips, state.done, state.emergency


@pytest.mark.parametrize("name", QUESTIONS)
def test_it_is_read_back(name: str) -> None:
    make, about = QUESTIONS[name]
    going = make()
    assert going.state.question is not None
    assert going.state.question.about is about
    question = going.state.question
    assert (question.target, question.cue, question.say) == ASKED[name]
    assert going.chimes == ["heard"]
    assert going.said
    assert going.machine.answering(going.state)
    assert " ".join(going.said) == going.state.question.say
    spoken = [effect for effect in going.effects if isinstance(effect, Say)]
    assert {effect.urgency for effect in spoken} == {Urgency.CAUTION}


@pytest.mark.parametrize("name", QUESTIONS)
@pytest.mark.parametrize(("seconds", "open_still"), [(4.99, True), (5.001, False), (5.01, False)])
def test_silence_means_no(name: str, seconds: float, open_still: bool) -> None:
    """Five seconds from the end of the read-back, which is deaf to all but stop cues."""
    going = QUESTIONS[name][0]()
    before = as_it_was(going)
    assert going.state.question is not None
    going.wait(lasts_about(going.state.question.say) + seconds)  # from the end of the read-back
    assert (going.state.question is not None) is open_still
    assert as_it_was(going) == before
    assert ("No answer. Nothing changed." in going.said) is not open_still


@pytest.mark.parametrize("name", QUESTIONS)
def test_no_means_no(name: str) -> None:
    going = QUESTIONS[name][0]()
    before = as_it_was(going)
    going.cue("deny")
    assert as_it_was(going) == before
    assert going.state.question is None
    assert going.said == ["All right. Nothing changed."]


@pytest.mark.parametrize("name", [name for name in QUESTIONS if name != "over"])
def test_a_pause_answers_no_and_pauses(name: str) -> None:
    going = QUESTIONS[name][0]()
    before = as_it_was(going)[1:]
    going.cue("pause")
    assert going.state.mode is Mode.PAUSED
    assert going.state.question is None
    assert as_it_was(going)[1:] == before


@pytest.mark.parametrize("name", QUESTIONS)
def test_an_emergency_answers_no(name: str) -> None:
    going = QUESTIONS[name][0]().cue("emergency.splash")
    assert going.state.mode is Mode.EMERGENCY
    assert going.state.emergency == "splash"
    assert going.state.question is None


@pytest.mark.parametrize("name", QUESTIONS)
def test_the_same_word_never_confirms(name: str) -> None:
    going = QUESTIONS[name][0]()
    assert going.state.question is not None
    assert going.state.question.cue not in going.active


@pytest.mark.parametrize("name", QUESTIONS)
def test_asking_again_repeats_the_question_whatever_was_said_since(name: str) -> None:
    going = QUESTIONS[name][0]()
    asked = going.state.question
    assert asked is not None
    going.give(DeviceLost(going.state.now + 1, "microphone"))
    going.cue("repeat", after=1)
    assert " ".join(going.said) == asked.say
    assert view(going.machine, going.state, going.state.now).question == asked.say
    assert going.state.question == asked, "saying it again gives no more time"


@pytest.mark.parametrize("name", QUESTIONS)
def test_falling_silent_answers_nothing(name: str) -> None:
    going = QUESTIONS[name][0]()
    before = going.state
    going.cue("quiet")
    assert going.effects == (Silence(),)
    assert going.state == before


@pytest.mark.parametrize("name", QUESTIONS)
def test_a_restart_asks_nothing_any_more(name: str) -> None:
    going = QUESTIONS[name][0]()
    going.give(Restarted(going.state.now + 1))
    assert going.state.question is None


def test_a_late_answer_is_too_late() -> None:
    going = visit_at("dentine.done").cue("saliva").cue("confirm", after=20)
    assert going.state.step == "dentine"
    assert "etched" in going.state.facts
    assert going.refusals == [Refuse("confirm", "too late")]
    assert going.chimes[-1] == "refused"
    assert going.said == ["No answer. Nothing changed."]


def test_a_cue_that_counts_again_once_the_question_has_lapsed_is_taken() -> None:
    going = visit_at("look.done").cue("skip").cue("look.done", after=20)
    assert going.state.step == "etch"


def test_what_spoils_meanwhile_closes_the_question() -> None:
    """Else a reason given after the alarm leaves out the step it went back to."""
    spoils = TimerSpec(
        "work", TimerKind.HARD_MAXIMUM, most=30.0, overdue_voids=("mixed",), overdue_back_to="mix"
    )
    steps = (
        step("mix", establishes=("mixed",), timers=(spoils,)),
        step("press", establishes=("pressed",), needs=("mixed",)),
        step("look"),
        step("wipe"),
    )
    plan = small_plan(steps=steps, rules=(), happenings=(), physical=())
    going = visit(plan).cues("mix.done", "press.done").wait(28)
    going.cue("skip").cue("not-needed", after=3)
    assert going.state.step == "mix"
    assert going.state.skips == ()
    assert [refusal.why for refusal in going.refusals] == ["too late"]


def test_a_timer_that_takes_nothing_away_leaves_the_question_open() -> None:
    warns = replace(DENTINE, warn=3.0, most=60.0)
    steps = (step("gel", timers=(warns,)), step("look"), step("wipe"))
    going = visit(small_plan(steps=steps, rules=(), happenings=())).cues("gel.done", "skip")
    assert going.wait(4).state.question is not None


def test_the_patient_leaves_only_when_it_is_confirmed() -> None:
    going = visit_at("leave.done").cue("leave.done")
    assert "gone" not in going.state.facts
    assert going.said == ["Do the leave. Say confirm that."]
    going.cue("confirm", after=1)
    assert "gone" in going.state.facts
    assert going.state.step == "tidy"


@pytest.mark.parametrize(
    ("held", "why"),
    [
        (step("leave", needs=("counted",), tier=Tier.GUARDED), "Not yet. First: counted."),
        (step("leave", stops=("press",), tier=Tier.GUARDED), "Wait 10 more seconds."),
        (step("leave", establishes=("gone",), tier=Tier.GUARDED), "First count every piece."),
    ],
    ids=["a need", "a minimum", "an interlock"],
)
def test_a_guarded_step_at_hand_that_is_held_is_refused_without_asking(
    held: Step, why: str
) -> None:
    press = step("press", timers=(TimerSpec("press", TimerKind.HARD_MINIMUM, least=11.0),))
    plan = small_plan(steps=(press, held, step("tidy", establishes=("counted",))), happenings=())
    going = visit(replace(plan, rules=plan.rules[2:])).cue("press.done").cue("leave.done", after=1)
    assert [refusal.why for refusal in going.refusals] == [why]
    assert going.state.question is None
    assert going.state.step == "leave"


@pytest.mark.parametrize("guarded", ["begin", "done"])
def test_only_the_guarded_part_of_a_step_is_asked_about(guarded: str) -> None:
    """Cutting begins only on a different word; or it ends so."""
    cut = step("cut", begin=True, establishes=("cut",))
    assert cut.begin is not None
    tiers = {part: Tier.GUARDED if part == guarded else Tier.ADVANCE for part in ("begin", "done")}
    cut = replace(
        cut, begin=replace(cut.begin, tier=tiers["begin"]),
        done=replace(cut.done, tier=tiers["done"]),
    )  # fmt: skip
    going = visit(small_plan(steps=(cut, step("tidy")), rules=(), happenings=()))
    for part in ("begin", "done"):
        before = going.state
        going.cue(f"cut.{part}")
        if part == guarded:
            assert replace(going.state, question=None, last_said="") == replace(
                before, last_said=""
            )
            going.cue("confirm")
        assert going.state.question is None
        assert going.state.under_way is (part == "begin")
    assert going.state.step == "tidy"


def test_a_guarded_step_that_is_held_is_refused_without_asking() -> None:
    plan = small_plan(steps=(step("count", establishes=("counted",)), *small_plan().steps[-2:]))
    going = visit(replace(plan, happenings=()))
    going.cue("leave.done")
    assert going.refusals[0].rule == "count-first"
    assert going.state.question is None
