"""What the page is told: the same as the session's view, as plain data."""

import json

from hypothesis import given
from hypothesis import strategies as st
from seated import PLAN

from sidecue.board.page import GROUPS, LastHeard, page
from sidecue.session.events import CueGiven, Started, TimePassed
from sidecue.session.keys import keys_for
from sidecue.session.machine import SessionMachine
from sidecue.session.view import view

NOTHING = LastHeard()
MACHINE = SessionMachine(PLAN)


def page_of(state, now, heard=NOTHING):
    step = PLAN.steps[PLAN.step_index[state.step]]
    own = [cue.id for cue in (step.begin, step.done) if cue is not None]
    keys = keys_for(MACHINE.cues_now(state), own)
    return page(view(MACHINE, state, now), keys, now, heard, PLAN.address)


def started():
    return MACHINE.step(MACHINE.first(), Started(0.0))[0]


def done(state, at=1.0):
    cue = PLAN.steps[PLAN.step_index[state.step]].done
    if state.question is not None:
        cue = next(each for each in PLAN.cues if each.id == "confirm")
    return MACHINE.step(state, CueGiven(max(at, state.now), cue.id))[0]


def emergency(state):
    return MACHINE.step(state, CueGiven(1.0, PLAN.emergencies[0].cue.id))[0]


def test_it_shows_step_caution_case_and_the_way_on():
    shown = page_of(started(), 0.5)
    assert shown["step"]["say"] == PLAN.steps[0].say
    assert shown["cautions"] == [PLAN.caution_by_id[each].say for each in PLAN.steps[0].cautions]
    assert shown["case"] == PLAN.case_line
    assert shown["progress"] == {"at": 1, "of": len(PLAN.steps), "skipped": []}
    first = shown["phrases"][0]
    assert (first["phrase"], first["key"], first["group"]) == (
        PLAN.steps[0].done.phrases[0], "enter", "now",
    )  # fmt: skip


def test_instruments_are_named_and_drawn():
    state = done(done(started()))
    shown = page_of(state, 1.0)
    names = [(each["id"], each["name"]) for each in shown["hand"]]
    assert names == [(i, PLAN.tray_by_id[i].name) for i in PLAN.steps[2].hand]
    assert all(each["drawn"] for each in shown["hand"] + shown["following"])
    assert len(shown["following"]) == 2


def test_what_was_refused_says_why():
    shown = page_of(started(), 1.0, LastHeard("lunch", "not a cue of this step", taken=False))
    assert shown["heard"] == {
        "words": "lunch", "verdict": "not a cue of this step", "taken": False,
    }  # fmt: skip


def test_an_emergency_shows_its_lines_and_the_way_back_first():
    shown = page_of(emergency(started()), 1.0)
    assert shown["emergency"] == list(PLAN.emergencies[0].says)
    assert shown["phrases"][0]["cue"] == "emergency-over"


@given(st.floats(0, 3600), st.floats(0, 3600))
def test_it_changes_only_when_something_happens(first, second):
    state = started()
    while not state.timers:
        state = done(state)
    assert page_of(state, state.now + first) == page_of(state, state.now + second)


@given(st.lists(st.sampled_from(["done", "wait", "alarm", "undo", "pause", "resume"]), max_size=25))
def test_every_page_is_plain_data_with_a_key_for_one_cue_each(acts):
    state, now = started(), 0.0
    for act in acts:
        now += 20
        while (due := MACHINE.next_deadline(state)) is not None and due <= now:
            state, _ = MACHINE.step(state, TimePassed(max(due, state.now)))
        cues = {cue.id for cue in MACHINE.cues_now(state)}
        step = PLAN.steps[PLAN.step_index[state.step]]
        cue = {"done": step.done.id, "alarm": PLAN.emergencies[0].cue.id}.get(act, act)
        if cue in cues:
            state, _ = MACHINE.step(state, CueGiven(now, cue))
        shown = page_of(state, now)
        assert json.loads(json.dumps(shown)) == shown
        keys = [each["key"] for each in shown["phrases"] if each["key"]]
        assert len(keys) == len(set(keys))
        groups = [GROUPS.index(each["group"]) for each in shown["phrases"]]
        assert groups == sorted(groups)


def test_the_scene_changes_with_what_a_press_would_mean():
    first = started()
    scenes = {page_of(each, 1.0)["scene"] for each in (first, done(first), emergency(first))}
    assert len(scenes) == 3
