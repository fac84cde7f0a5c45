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
from sidecue.session.state import Mode, SessionState
from sidecue.session.view import offered, view

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
def test_nobody_is_led_to_name_another_tooth_than_the_planned_one(case: str) -> None:
    """It is heard, to be refused; a screen or a key must not propose it."""
    machine, states = way(case)
    asked = [state for state in states if state.step == "time-out" and state.question is None]
    assert asked
    for state in asked:
        heard = {cue.id for cue in machine.cues_now(state)}
        assert {"set.tooth.other", "set.surfaces.other"} <= heard
        shown = {each.phrase for each in view(machine, state, state.now).phrases}
        right = {slot.values[0].cue.phrases[0] for slot in machine.plan.slots
                 if slot.id in ("tooth", "surfaces")}  # fmt: skip
        assert {each for each in shown if each.startswith(("tooth number", "surfaces"))} == right
        assert not {"set.tooth.other", "set.surfaces.other"} & {
            cue.id for cue in offered(machine, state)
        }


@pytest.mark.parametrize(
    ("case", "step", "part", "fact", "says"),
    [
        ("composite-46-mo", "open-cavity", "begin", "patient-eyes-covered", "patient's eyes"),
        ("composite-46-mo", "etch-enamel", "done", "patient-eyes-covered", "patient's eyes"),
        ("amalgam-14-do", "open-cavity", "begin", "patient-eyes-covered", "patient's eyes"),
        ("interim-glass-ionomer-75-o", "open-by-hand", "begin", "patient-eyes-covered",
         "patient's eyes"),
        ("amalgam-46-o-polishing", "finish-wet", "done", "patient-eyes-covered", "patient's eyes"),
    ],
)  # fmt: skip
def test_nothing_flies_or_burns_before_the_patients_eyes_are_covered(
    case: str, step: str, part: str, fact: str, says: str
) -> None:
    made = plan_of(case)
    place = made.steps[made.step_index[step]]
    cue = place.begin if part == "begin" else place.done
    held: frozenset[str] = frozenset()
    for before in made.steps[: made.step_index[step]]:
        held = held.difference(before.begin_voids).union(before.begin_establishes)
        held = held.difference(before.voids).union(before.establishes)
    machine = SessionMachine(made)
    for facts, refused in ((held, False), (held - {fact}, True)):
        state = SessionState(mode=Mode.RUNNING, step=step, facts=facts)
        _, effects = machine.step(state, CueGiven(1.0, cue.id))
        told = [each.why for each in effects if isinstance(each, Refuse)]
        assert [says in each for each in told] == [True] * refused


def test_nobody_cuts_after_an_injection_before_the_numbness_was_tested() -> None:
    made = plan_of("composite-46-mo")
    by_id = {step.id: step for step in made.steps}
    assert "numbness-untested" in by_id["inject"].establishes
    assert "numbness-untested" in by_id["test-numbness"].voids
    rule = next(each for each in made.rules if each.id == "numbness-tested-before-cutting")
    assert set(rule.never) == {"numbness-untested", "cavity-opened"}


@pytest.mark.parametrize(
    ("case", "step", "clocks"),
    [
        ("amalgam-14-do", "tip-out", {"packing", "carving"}),
        ("glass-ionomer-43-b-cervical", "load-gun-glass-ionomer", {"working", "setting"}),
    ],
)
def test_the_clocks_of_a_mix_run_from_the_end_of_the_mixing(case, step, clocks) -> None:
    """Facts of the trade: end of trituration, end of mix; not when it is tipped out or loaded."""
    machine = SessionMachine(plan_of(case))
    place = machine.plan.steps[machine.plan.step_index[step]]
    state = SessionState(mode=Mode.RUNNING, step=step, facts=frozenset({"capsule-activated"}))
    state, _ = machine.step(state, CueGiven(5.0, place.begin.id))
    assert state.step == step
    assert {timer.spec.name for timer in state.timers} >= clocks
    assert all(timer.started == 5.0 for timer in state.timers)
    assert "capsule-mixed" in state.facts
    after, _ = machine.step(state, CueGiven(12.0, place.done.id))
    assert after.step != step
    assert {timer.started for timer in after.timers} == {5.0}


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
