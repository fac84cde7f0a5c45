"""Why an act is held back, at its edges: what was used up, done before, begun, or timed twice."""

from __future__ import annotations

import pytest
from builder import RULES, small_plan, step, visit, visit_at

from sidecue.procedure.plan import Rule, Step, TimerKind, TimerSpec

ENAMEL = TimerSpec("enamel", TimerKind.HARD_MINIMUM, least=15.0)


def test_an_act_that_used_up_its_need_is_confirmed_again_once_its_word_was_taken_back() -> None:
    """The syringe is empty and the solution in the tissue: nothing is asked a second time."""
    steps = (
        step("draw-up", establishes=("drawn-up",)),
        step("inject", needs=("drawn-up",), establishes=("injected",), voids=("drawn-up",)),
        step("wait"),
    )
    drawn = Rule("drawn-first", "First draw it up.", "test", act="injected", needs=("drawn-up",))
    plan = small_plan(steps, (drawn,), happenings=(), physical=("injected",))
    going = visit(plan).cues("draw-up.done", "inject.done", "undo", after=1)
    assert going.state.step == "inject"
    assert going.state.facts == {"injected"}, "undo fills no syringe"
    going.cue("inject.done", after=1)
    assert not going.refusals
    assert going.state.step == "wait"


def test_what_was_gained_before_is_judged_again_when_it_is_done_again() -> None:
    """The second layer's light needs its shields, though resin was cured before."""
    again = step("cure-again", needs=("cured",), establishes=("cured",))
    rule = Rule("shields", "First raise the shields.", "test", act="cured", needs=("shields-up",))
    steps = (
        step("shield", establishes=("shields-up",)),
        step("cure", establishes=("cured",), voids=("shields-up",)),
        again,
    )
    plan = small_plan(steps, (rule,), happenings=())
    going = visit(plan).cues("shield.done", "cure.done", "cure-again.done", after=1)
    assert (going.refusals[0].why, going.refusals[0].rule) == (rule.say, "shields")
    assert going.state.step == "cure-again"


def test_what_a_beginning_takes_away_is_not_needed_for_the_end() -> None:
    """A capsule in the mixer is no longer in its pouch; the mixing ends all the same."""
    steps = (
        step("open", establishes=("capsule-fresh",)),
        step("mix", begin=True, needs=("capsule-fresh",), begin_voids=("capsule-fresh",),
             establishes=("mixed",)),
        step("pack", needs=("mixed",)),
    )  # fmt: skip
    going = visit(small_plan(steps, (), happenings=()))
    going.cues("open.done", "mix.begin", "mix.done", after=1)
    assert not going.refusals
    assert going.state.step == "pack"


def test_what_a_beginning_takes_away_is_not_together_with_what_it_brings() -> None:
    """Uncovering the needle is what makes it bare."""
    steps = (
        step("cover", establishes=("needle-covered",)),
        step("inject", begin=True, begin_voids=("needle-covered",),
             begin_establishes=("needle-bare",), voids=("needle-bare",), establishes=("injected",)),
    )  # fmt: skip
    either = Rule("either", "Covered or bare.", "test", never=("needle-covered", "needle-bare"))
    going = visit(small_plan(steps, (either,), happenings=()))
    going.cues("cover.done", "inject.begin", after=1)
    assert not going.refusals
    assert going.state.under_way


def test_what_an_end_takes_away_is_not_together_with_what_it_brings() -> None:
    """And covering it ends that."""
    steps = (
        step("inject", establishes=("needle-bare",)),
        step("cover", voids=("needle-bare",), establishes=("needle-covered",)),
        step("tidy"),
    )
    either = Rule("either", "Covered or bare.", "test", never=("needle-covered", "needle-bare"))
    going = visit(small_plan(steps, (either,), happenings=())).cues("inject.done", "cover.done")
    assert not going.refusals
    assert going.state.step == "tidy"


def test_a_light_whose_word_was_taken_back_still_burns_and_is_not_left_out() -> None:
    going = visit_at("cure.done").cues("undo", "skip", after=1)
    assert not going.state.under_way
    assert going.refusals[0].why == "Cannot skip. This step is under way."


def test_an_act_that_stands_and_has_no_beginning_may_be_left_out() -> None:
    """Undo took back the word alone; the patient has left, and nobody needs to say it twice."""
    going = visit_at("tidy.done").cues("undo", "skip", after=1)
    assert going.state.step == "leave"
    assert going.state.standing == "leave"
    assert not going.refusals
    assert going.state.question is not None


def test_a_need_that_no_interlock_is_behind_names_none() -> None:
    going = visit_at("agree.done", small_plan(rules=RULES[1:])).cue("skip")
    assert (going.refusals[0].why, going.refusals[0].rule) == (
        "Cannot skip. Needed: agreed.", "",
    )  # fmt: skip


def _acid(rinse: Step) -> tuple[Step, ...]:
    return (step("etch", establishes=("etched",), timers=(ENAMEL,)), rinse, step("dry"))


@pytest.mark.parametrize(
    "rinse",
    [
        step("rinse", stops=("enamel",)),
        step("rinse", done_stops=("enamel",)),
        step("rinse", begin=True, stops=("enamel",)),
        step("rinse", begin=True, done_stops=("enamel",)),
    ],
    ids=["its one word ends it", "its end ends it", "its beginning ends it", "its last word does"],
)
def test_leaving_out_what_would_end_a_minimum_does_not_make_it_shorter(rinse: Step) -> None:
    going = visit(small_plan(_acid(rinse), (), happenings=())).cue("etch.done")
    going.cue("skip", after=5)
    assert going.refusals[0].why == "Wait 10 more seconds."
    going.cue("skip", after=10)
    assert not going.refusals
    assert going.state.question is not None


def test_a_count_down_that_runs_out_makes_no_minimum_shorter() -> None:
    """The onset of the local is told, and spoils nothing: the acid stays its time."""
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, most=10.0)
    steps = (
        step("etch", establishes=("etched",), timers=(ENAMEL, onset)),
        step("rinse", stops=("enamel", "onset")),
    )
    going = visit(small_plan(steps, (), happenings=())).cue("etch.done").cue("rinse.done", after=5)
    assert going.refusals[0].why == "Wait 10 more seconds."


@pytest.mark.parametrize(("most", "held"), [(15.0, True), (14.0, False)])
def test_a_minimum_as_long_as_a_maximum_is_kept_and_a_longer_one_gives_way(
    most: float, held: bool
) -> None:
    """Acid comes off at dentine's most, even when enamel wanted it longer; not before."""
    dentine = TimerSpec("dentine", TimerKind.HARD_MAXIMUM, most=most, overdue_say="Rinse now.")
    steps = (
        step("etch", establishes=("etched",), timers=(ENAMEL, dentine)),
        step("rinse", stops=("enamel", "dentine")),
    )
    going = visit(small_plan(steps, (), happenings=())).cue("etch.done").cue("rinse.done", after=5)
    assert [each.why for each in going.refusals] == (["Wait 10 more seconds."] if held else [])
