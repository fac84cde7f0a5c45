"""The machine on the plans that ship: every cue of every state on the straight way through."""

from __future__ import annotations

from functools import cache

import pytest

from shipped_library import shipped
from sidecue.procedure.case import case_of
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.session.effects import Refuse, Say
from sidecue.session.events import CueGiven, Started, TimePassed
from sidecue.session.keys import keys_for
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState
from sidecue.session.view import view

CASES = ("composite-46-mo", "amalgam-14-do")
MOST_WORDS = 8  # of a spoken prompt: the tool's own rule


@cache
def plan_of(case: str) -> Plan:
    library = shipped()
    practice = library.practices["example"]
    made = case_of(library.cases[case].model, practice.notation)
    return plan(library, choose_procedure(library, made, practice), made, practice)


@cache
def way(case: str) -> tuple[SessionMachine, tuple[SessionState, ...]]:
    """Every state from start to finish a second for each cue, and waits as the timers ask."""
    machine = SessionMachine(plan_of(case))
    state, _ = machine.step(machine.first(), Started(0.0))
    states, pause = [state], 1.0
    while state.live:
        cues = machine.cues_now(state)
        cue = next((each for each in cues if each.id == "confirm"), cues[0])
        after, effects = machine.step(state, CueGiven(state.now + pause, cue.id))
        pause = 1.0
        if any(isinstance(effect, Refuse) for effect in effects):
            due, pause = machine.next_deadline(state), 0.0
            assert due is not None, effects
            after, _ = machine.step(state, TimePassed(due))
        state = after
        states.append(state)
    return machine, tuple(states)


@pytest.mark.parametrize("case", CASES)
def test_every_cue_of_every_state_is_answered_in_short_prompts(case: str) -> None:
    machine, states = way(case)
    long = set()
    for state in states:
        for cue in machine.cues_now(state):
            _, effects = machine.step(state, CueGiven(state.now, cue.id))
            assert effects, f"{cue.id} at {state.step}"
            said = [effect.text for effect in effects if isinstance(effect, Say)]
            if cue.id == "advice":  # for the patient at rest: held to plain language instead
                continue
            long.update(text for text in said if len(text.split()) > MOST_WORDS)
    assert not long


@pytest.mark.parametrize("case", CASES)
def test_a_phrase_means_one_thing_at_a_time_and_stop_cues_keep_theirs(case: str) -> None:
    machine, states = way(case)
    stops = [each.cue for each in machine.plan.emergencies]
    for state in states:
        cues = machine.cues_now(state)
        phrases = [phrase for cue in cues for phrase in cue.phrases]
        assert len(phrases) == len(set(phrases)), state.step
        if state.live:
            assert all(stop in cues for stop in stops), "with every one of its phrases"


@pytest.mark.parametrize("case", CASES)
def test_every_cue_has_a_key(case: str) -> None:
    machine, states = way(case)
    for state in states:
        cues = machine.cues_now(state)
        step = machine.plan.steps[machine.plan.step_index[state.step]]
        keys = keys_for(cues, [each.id for each in (step.begin, step.done) if each is not None])
        assert {cue.id for cue in keys.values()} == {cue.id for cue in cues}, state.step


@pytest.mark.parametrize("case", CASES)
def test_the_view_of_every_state_can_be_shown(case: str) -> None:
    machine, states = way(case)
    for number, state in enumerate(states):
        shown = view(machine, state, state.now + 0.5)
        assert shown.step_number <= shown.step_count
        assert all(0 <= timer.fraction <= 1 for timer in shown.timers)
        assert bool(shown.question) is (state.question is not None)
        assert bool(shown.phrases) is state.live, number
        assert len(shown.following) <= 2


@pytest.mark.parametrize("case", CASES)
def test_the_way_ends_with_every_step_done_and_no_timer_short(case: str) -> None:
    machine, states = way(case)
    last = states[-1]
    assert last.done == tuple(step.id for step in machine.plan.steps)
    assert last.skips == ()
    assert {timer.verdict for timer in last.kept} <= {"kept", "told"}
