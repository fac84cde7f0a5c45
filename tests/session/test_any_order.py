"""Whatever is said, in whatever order and at whatever time, these things hold."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builder import PHYSICAL, RULES, Visit, small_plan
from hypothesis import given, settings
from hypothesis import strategies as st

from sidecue.procedure.interlocks import violations
from sidecue.procedure.plan import Plan, Rule
from sidecue.session.effects import Refuse, Say
from sidecue.session.events import (
    CueGiven,
    DeviceLost,
    Event,
    HearingRefused,
    Restarted,
    Started,
    TimePassed,
)
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode, SessionState

NEVER = Rule(
    "no-light-on-metal", "First switch the light off.", "test", never=("light-on", "mixed")
)
PLAN = small_plan(rules=(*RULES, NEVER))
MACHINE = SessionMachine(PLAN)
EVERY_CUE = [
    *(cue.id for cue in (*PLAN.cues, *PLAN.skip_reasons)),
    *(happening.cue.id for happening in PLAN.happenings),
    *(emergency.cue.id for emergency in PLAN.emergencies),
    *(cue.id for step in PLAN.steps for cue in (step.begin, step.done) if cue is not None),
]

#: What happens next: the seconds that pass, and the event: an own cue (most often, so that
#: visits get far), any active cue, the clock, a refused hearing, a lost device, a restart.
MOMENT = st.tuples(
    st.sampled_from([0.0, 0.5, 1.0, 4.99, 5.0, 11.0, 15.0, 20.0, 31.0, 211.0]),
    st.one_of(
        st.just("own"),
        st.just("own"),
        st.integers(min_value=0, max_value=40),
        st.sampled_from(["time", "refused", "lost", "restart", "confirm", "undo"]),
    ),
)


def event_of(machine: SessionMachine, state: SessionState, moment: tuple[float, object]) -> Event:
    after, what = moment
    at = state.now + after
    active = [cue.id for cue in machine.cues_now(state)]
    if what == "own" or (what in ("confirm", "undo") and what not in active):
        return CueGiven(at, active[0])
    if isinstance(what, int):
        return CueGiven(at, active[what % len(active)])
    if what in ("confirm", "undo"):
        return CueGiven(at, str(what))
    others: dict[object, Event] = {
        "time": TimePassed(at), "refused": HearingRefused(at, "noise"),
        "lost": DeviceLost(at, "microphone"), "restart": Restarted(at),
    }  # fmt: skip
    return others[what]


def walk(plan: Plan, machine: SessionMachine, moments: list[tuple[float, object]]) -> Visit:
    going = Visit(machine, machine.first())
    events: list[Event] = [Started(0.0)]
    going.give(events[0])
    for moment in moments:
        if not going.state.live:
            break
        event = event_of(machine, going.state, moment)
        events.append(event)
        before = going.state
        clocked, _ = machine.step(before, TimePassed(event.at))
        going.give(event)
        check_step(plan, clocked, event, going)
        check_state(plan, machine, going.state)
    replayed = machine.first()
    for event in events:
        replayed, _ = machine.step(replayed, event)
    assert replayed == going.state
    return going


def check_step(plan: Plan, before: SessionState, event: Event, going: Visit) -> None:
    """`before` has the clock of the event already."""
    after = going.state
    assert after.now == event.at
    if isinstance(event, TimePassed):
        due = going.machine.next_deadline(after)
        assert due is None or due > after.now
    if any(isinstance(effect, Refuse) for effect in going.effects):
        assert replace(after, last_said="") == replace(before, last_said="")
    gained, lost = after.facts - before.facts, before.facts - after.facts
    if isinstance(event, CueGiven) and event.cue == "undo" and before.history:
        assert gained <= before.history[-1].facts, "undo brings back only what was true"
        assert not lost & PHYSICAL, "undo takes back no physical fact"
        return
    if gained:
        assert isinstance(event, CueGiven)
        step = plan.steps[plan.step_index[before.step]]
        assert gained <= {*step.establishes, *step.begin_establishes}
        entering = not before.under_way
        again = before.standing == step.id
        assert again or not entering or before.facts.issuperset(step.needs)
        assert not violations(plan.rules, before.facts, gained, dict(plan.case_facts), lost)
    if lost:
        assert isinstance(event, CueGiven)


def check_state(plan: Plan, machine: SessionMachine, state: SessionState) -> None:
    names = [timer.spec.name for timer in state.timers]
    assert len(names) == len(set(names))
    assert all(timer.started <= state.now for timer in state.timers)
    assert all(timer.ran >= 0 for timer in state.kept)
    assert not any(rule.never and state.facts.issuperset(rule.never) for rule in plan.rules)
    step = plan.steps[plan.step_index[state.step]]
    assert not state.under_way or step.begin is not None
    if not state.live:
        assert state.timers == ()
        return
    active = {cue.id for cue in machine.cues_now(state)}
    assert "pause" in active or state.mode in (Mode.PAUSED, Mode.EMERGENCY)
    assert active.issuperset(emergency.cue.id for emergency in plan.emergencies)
    phrases = [phrase for cue in machine.cues_now(state) for phrase in cue.phrases]
    assert len(phrases) == len(set(phrases)), "a phrase means one thing at a time"


@given(st.lists(MOMENT, max_size=60))
@settings(max_examples=100, deadline=None)
def test_any_visit(moments: list[tuple[float, object]]) -> None:
    walk(PLAN, MACHINE, moments)


@given(st.lists(MOMENT, max_size=40))
@settings(max_examples=40, deadline=None)
def test_every_cue_that_counts_is_answered_and_no_other(
    moments: list[tuple[float, object]],
) -> None:
    going = walk(PLAN, MACHINE, moments)
    state = going.state
    active = {cue.id for cue in MACHINE.cues_now(state)}
    for cue in EVERY_CUE:
        if cue in active:
            after, effects = MACHINE.step(state, CueGiven(state.now, cue))
            assert effects
            assert all(effect.text for effect in effects if isinstance(effect, Say))
            assert after.now == state.now
        else:
            with pytest.raises(IllegalEvent) as raised:
                MACHINE.step(state, CueGiven(state.now, cue))
            assert raised.value.state is state


@given(st.lists(MOMENT, min_size=5, max_size=40), st.integers(min_value=1, max_value=8))
@settings(max_examples=50, deadline=None)
def test_any_number_of_undos_keeps_what_was_done(
    moments: list[tuple[float, object]], undos: int
) -> None:
    going = walk(PLAN, MACHINE, moments)
    done = going.state.facts & PHYSICAL
    for _ in range(undos):
        if "undo" not in going.active:
            return
        going.cue("undo")
        assert going.state.facts >= done
        check_state(PLAN, MACHINE, going.state)


@given(st.lists(MOMENT, max_size=50))
@settings(max_examples=50, deadline=None)
def test_from_anywhere_the_visit_can_be_brought_to_its_end(
    moments: list[tuple[float, object]],
) -> None:
    """No state is a dead end: out of an emergency or a pause, cue by cue, waiting as told."""
    going = walk(PLAN, MACHINE, moments)
    for _ in range(80):
        state = going.state
        if not state.live:
            return
        if state.question is not None:
            answer = "confirm" if "confirm" in going.active else "deny"
            going.cue(answer)
        elif state.mode is Mode.EMERGENCY:
            going.cue("emergency-over")
        elif state.mode is Mode.PAUSED:
            going.cue("resume")
        else:
            going.give(CueGiven(state.now, MACHINE.cues_now(state)[0].id))
            if going.refusals:
                assert "Wait" in going.refusals[0].why, going.refusals[0].why
                due = going.machine.next_deadline(state)
                going.wait(1 if due is None else due - state.now)
    raise AssertionError(f"stuck at {going.state.step}: {going.effects}")
