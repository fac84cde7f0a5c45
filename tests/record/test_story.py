import pytest
from hypothesis import given, settings
from random_events import event_lists, taken
from small_visit import small_plan
from whole_visits import FAINTED, GOOD, NOT_NUMBED, SALIVA, told

from sidecue.record.port import JournalError
from sidecue.record.story import Outcome
from sidecue.record.summary import Summary, summarise, summary_lines
from sidecue.record.telling import tell
from sidecue.session.events import CueGiven, Started, TimePassed


def outcomes(story):
    return {step.step.id: step.outcome.value for step in story.steps}


def times(story, step):
    each = story.steps[story.plan.step_index[step]]
    return each.arrived, each.begun, each.done


def test_each_step_tells_when_it_was_reached_begun_and_done():
    story = told(GOOD)
    assert set(outcomes(story).values()) == {"done"}
    assert times(story, "numb") == ((0.0,), (), (10.0,))
    assert times(story, "etch") == ((10.0,), (20.0,), (34.0,))
    assert times(story, "bite") == ((100.0,), (), (120.0,))
    assert (story.started, story.ended, story.finished) == (0.0, 120.0, True)


def test_a_timer_tells_what_it_was_asked_and_what_it_ran():
    etch, rinse = told(GOOD).timers
    assert (etch.spec.most, etch.started, etch.ran, etch.verdict) == (15.0, 20.0, 14.0, "kept")
    assert (rinse.least, rinse.started, rinse.ran, rinse.verdict) == (15.0, 35.0, 16.5, "kept")


def test_a_rinse_is_asked_to_last_as_long_as_the_etch_did():
    # Rinse as long as you etched: common practice, no source.
    events = (*GOOD[:2], CueGiven(20.0, "etch-on"), CueGiven(42.0, "etch-done"))
    story = told((*events, CueGiven(50.0, "water-on")))
    assert story.timers[-1].least == 22.0
    assert (story.timers[0].verdict, story.timers[-1].verdict) == ("overdue", "running")
    assert story.timers[-1].ran is None


def test_cues_that_were_held_back_tell_why_and_by_which_interlock():
    early, short = told(GOOD).refusals
    assert (early.at, early.cue, early.rule) == (12.0, "place-done", "rinse-before-filling")
    assert early.refused == "Rinse before you fill."
    assert (short.at, short.cue, short.rule) == (40.0, "rinse-done", "")
    assert "10" in short.refused  # seconds left of fifteen, after five


def test_words_that_were_not_understood_are_told_apart_from_those_held_back():
    assert [(heard.at, heard.nearest) for heard in told(GOOD).unheard] == [
        (22.0, "etch-done"),
        (23.0, ""),
    ]


def test_pauses_lost_devices_and_restarts_are_told():
    story = told(GOOD)
    assert [(span.began, span.ended) for span in story.pauses] == [(60.0, 90.0)]
    assert [(mark.at, mark.what) for mark in story.devices] == [
        (41.0, "microphone lost"),
        (44.0, "microphone back"),
    ]
    assert [mark.at for mark in story.restarts] == [110.0]


def test_a_caution_is_told_when_it_was_given():
    assert [(mark.at, mark.what) for mark in told(GOOD).cautions] == [(10.0, "acid")]
    assert [mark.at for mark in told(SALIVA).cautions] == [10.0, 57.0]


def test_facts_are_told_with_the_moment_they_came_true():
    facts = [(fact.at, fact.fact, fact.by) for fact in told(GOOD).facts]
    assert facts == [
        (10.0, "numb", "numb-done"),
        (20.0, "etched", "etch-on"),
        (51.5, "rinsed", "rinse-done"),
        (100.0, "filled", "place-done"),
        (120.0, "bite-checked", "bite-done"),
    ]


def test_saliva_voids_the_etch_and_both_rounds_are_told():
    story = told(SALIVA)
    assert times(story, "etch") == ((10.0, 57.0), (20.0, 70.0), (34.0, 84.0))
    lost = [(fact.at, fact.fact, fact.by) for fact in story.facts if not fact.holds]
    assert lost == [(57.0, "etched", "saliva"), (57.0, "rinsed", "saliva")]
    assert story.confirmed["etched"] == 70.0
    assert [timer.ran for timer in story.timers] == [14.0, 16.0, 14.0, 16.0]
    assert set(outcomes(story).values()) == {"done"}


def test_a_step_left_out_keeps_its_reason():
    story = told(NOT_NUMBED)
    assert outcomes(story)["numb"] == "left out"
    assert [(skip.at, skip.step, skip.reason) for skip in story.skips] == [
        (7.0, "numb", "not-needed")
    ]
    assert "numb" not in story.confirmed
    assert story.finished


def test_a_step_left_out_and_taken_up_again_is_not_left_out():
    story = told((*NOT_NUMBED[:3], CueGiven(9.0, "undo"), CueGiven(12.0, "numb-done")))
    assert story.skips == ()
    assert outcomes(story)["numb"] == "done"


def test_what_was_taken_back_is_neither_done_nor_true():
    story = told((*GOOD[:14], CueGiven(55.0, "undo")))
    assert outcomes(story)["rinse"] == "open"
    assert times(story, "rinse")[1:] == ((35.0,), ())
    assert "rinsed" not in story.confirmed
    taken_back = story.facts[-1]
    assert (taken_back.fact, taken_back.holds, taken_back.by) == ("rinsed", False, "undo")


def test_what_was_done_to_the_patient_stays_true_when_the_words_are_taken_back():
    story = told((*GOOD[:2], CueGiven(12.0, "undo")))
    assert "numb" in story.confirmed
    assert outcomes(story)["numb"] == "open"


def test_a_timer_whose_start_was_taken_back_never_ran_and_the_one_it_ended_runs_on():
    # "Water on" was misheard: the acid, and its clock, are still on the tooth.
    events = (*GOOD[:2], CueGiven(20.0, "etch-on"), CueGiven(24.0, "etch-done"))
    story = told((*events, CueGiven(26.0, "water-on"), CueGiven(28.0, "undo")))
    etch, rinse = story.timers
    assert (etch.ran, etch.verdict) == (4.0, "kept")
    assert (rinse.ran, rinse.verdict) == (None, "taken back")
    story = told((*events, CueGiven(26.0, "undo")))
    assert [timer.verdict for timer in story.timers] == ["running"]


def test_an_emergency_is_told_from_its_call_to_its_end_and_the_visit_stays_open():
    story = told(FAINTED)
    assert [(span.what, span.began, span.ended) for span in story.emergencies] == [
        ("faint", 22.0, 64.0)
    ]
    assert [(span.began, span.ended) for span in story.pauses] == [(64.0, None)]
    assert not story.finished
    assert outcomes(story) == {
        "numb": "done",
        "etch": "open",
        "rinse": "not reached",
        "place": "not reached",
        "bite": "not reached",
    }
    assert story.timers[0].verdict == "overdue"  # acid is not paused by an emergency
    assert story.timers[0].ran is None


def test_a_session_without_events_is_a_story_too():
    story = told(())
    assert not story.finished
    assert {step.outcome for step in story.steps} == {Outcome.OPEN, Outcome.NOT_REACHED} - {
        Outcome.OPEN
    }


def test_events_that_do_not_replay_name_the_first_that_does_not():
    with pytest.raises(JournalError, match=r"event 1 does not replay.*version"):
        told((Started(5.0), TimePassed(2.0)))


def test_the_summary_counts_what_the_visit_was():
    assert summarise(told(GOOD)) == Summary(
        steps_done=5,
        steps=5,
        left_out=0,
        heard=8,
        keyed=1,
        refused_by_hearing=2,
        refused_by_rule=2,
        timers_kept=2,
        timers_not_kept=0,
        cautions=1,
        prompts=summarise(told(GOOD)).prompts,
    )
    assert summary_lines(summarise(told(GOOD)))[1:4] == (
        "Cues heard: 8, by key, pedal or text: 1",
        "Refused: 2 not understood, 2 unsafe or too early",
        "Timers kept: 2, not kept: 0",
    )


@settings(deadline=None)
@given(event_lists())
def test_whatever_happens_the_story_agrees_with_the_machine(events):
    state, accepted = taken(small_plan(), events)
    story = tell(small_plan(), accepted)
    assert story.final == state
    assert [(skip.step, skip.reason) for skip in story.skips] == [
        (skip.step, skip.reason) for skip in state.skips
    ]
    assert sorted(step for each in story.steps for step in [each.step.id] * len(each.done)) == (
        sorted(state.done)
    )
    ended = {(timer.spec.name, timer.started, timer.ran, timer.verdict) for timer in story.timers}
    kept = {(kept.name, kept.started, kept.ran, kept.verdict) for kept in state.kept}
    running = {
        (timer.spec.name, timer.started, None, "overdue" if timer.overdue else "running")
        for timer in state.timers  # of this plan, none is a count-down
    }
    assert kept | running <= ended
    assert {timer[3] for timer in ended - kept - running} <= {"taken back"}
    assert state.facts <= set(story.confirmed)
    last = {fact.fact: fact.holds for fact in story.facts}
    assert {fact for fact, holds in last.items() if holds} == state.facts
    for step in story.steps:
        assert len(step.begun) <= len(step.arrived) or step.step.begin is None
