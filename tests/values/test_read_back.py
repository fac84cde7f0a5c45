"""No value is recorded but by its own read-back and a different word."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from value_chair import Chair, chair, plan_for

from sidecue.procedure.plan import Tier
from sidecue.session.effects import Say
from sidecue.session.events import CueGiven, Restarted, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.prompts import lasts_about
from sidecue.session.state import Asking, SessionState
from sidecue.session.values import fewer_values
from sidecue.session.view import view

PLAN = plan_for(weight_kg=None)
MACHINE = SessionMachine(PLAN)
SLOT_OF = {v.cue.id: (slot.id, v.value) for slot in PLAN.slots for v in slot.values}
STEPS = ("allergies", "time-out", "take-shade", "log-anaesthetic", "inspect-cavity")

#: What happens next, and after how many seconds: any active cue by its number, a value by its
#: number, a confirmation, an undo, silence, a restart.
MOMENT = st.tuples(
    st.sampled_from([0.0, 1.0, 4.0, 9.0]),
    st.one_of(
        st.tuples(st.just("any"), st.integers(0, 200)),
        st.tuples(st.just("value"), st.integers(0, 200)),
        st.tuples(st.just("value"), st.integers(0, 200)),
        st.tuples(st.sampled_from(["confirm", "confirm", "undo", "time", "restart"]), st.just(0)),
    ),
)


def next_event(state: SessionState, moment: tuple[float, tuple[str, int]]):
    after, (what, number) = moment
    at = state.now + after
    active = [cue.id for cue in MACHINE.cues_now(state)]
    values = [cue for cue in active if cue in SLOT_OF] if what == "value" else []
    if what == "time":
        return TimePassed(at)
    if what == "restart":
        return Restarted(at)
    if what in active:
        return CueGiven(at, what)
    chosen = values or active
    return CueGiven(at, chosen[number % len(chosen)])


@given(st.sampled_from(STEPS), st.lists(MOMENT, max_size=40))
@settings(max_examples=150, deadline=None)
def test_a_value_stands_only_after_its_read_back_and_a_different_word(step, moments):
    going = chair(PLAN, step)
    ever: set[object] = set()
    for moment in moments:
        if not going.state.live:
            break
        before = going.state
        event = next_event(before, moment)
        going.give(event)
        after = going.state
        new = Counter(after.values) - Counter(before.values)
        for value in new.elements():
            assert isinstance(event, CueGiven)
            if event.cue == "undo":
                assert value in ever, "undo brings back only what was confirmed"
                continue
            asked = before.question
            assert asked is not None, "it was asked"
            assert asked.about is Asking.VALUE
            assert asked.lapses > event.at, "the answer came in time"
            assert SLOT_OF[asked.cue] == (value.slot, value.value), "what was read back"
            assert event.cue == "confirm" != asked.cue
            ever.add(value)
        if Counter(before.values) - Counter(after.values):
            assert isinstance(event, CueGiven)
            assert event.cue in ("confirm", "undo"), "none is lost by itself"
        singles = [v.slot for v in after.values if v.slot != "cartridges"]
        assert len(singles) == len(set(singles)), "one shade, one weight, one depth"
    replayed = MACHINE.first()
    for event in going.events:
        replayed, _ = MACHINE.step(replayed, event)
    assert replayed == going.state


def spoken_at(step: str) -> Chair:
    return chair(PLAN, step)


@pytest.mark.parametrize("step", STEPS)
def test_every_value_is_read_back_as_it_will_be_recorded_and_says_nothing_else(step):
    going = spoken_at(step)
    for cue in MACHINE.cues_now(going.state):
        if cue.id not in SLOT_OF:
            continue
        assert cue.tier is Tier.GUARDED
        asked, effects = MACHINE.step(going.state, CueGiven(going.state.now, cue.id))
        slot, value = SLOT_OF[cue.id]
        say = next(v.say for s in PLAN.slots for v in s.values if (s.id, v.value) == (slot, value))
        assert asked.question is not None
        assert asked.question.say == f"{say}. Say confirm that."
        said = [each.text for each in effects if isinstance(each, Say)]
        assert " ".join(said) == asked.question.say
        assert all(len(prompt.split()) <= 8 for prompt in said)
        assert replace(asked, question=None, last_said="") == replace(going.state, last_said="")


def test_silence_means_no():
    going = spoken_at("take-shade").say("shade a two")
    asked = going.state.question
    assert asked is not None
    going.give(TimePassed(asked.lapses - 0.01))
    assert going.state.question is asked
    going.give(TimePassed(going.state.now + 0.02))
    assert going.state.question is None
    assert going.values == []
    assert going.said == ["No answer. Nothing changed."]
    assert asked.lapses - lasts_about(asked.say) >= 5.0


def test_the_same_words_do_not_confirm():
    going = spoken_at("take-shade").say("shade a two")
    assert not going.hear("shade a two")
    assert not going.hear("no shade a two")
    assert going.values == []


@pytest.mark.parametrize("answer", ["cancel that question", "pause procedure"])
def test_other_answers_mean_no(answer):
    going = spoken_at("take-shade").say("shade a two", answer)
    assert going.values == []
    assert going.state.question is None


def test_an_emergency_ends_the_question_and_nothing_is_recorded():
    going = spoken_at("take-shade").say("shade a two")
    alarm = PLAN.emergencies[0].cue.phrases[0]
    going.say(alarm)
    assert going.state.question is None
    assert going.values == []
    assert not going.hear("confirm that")


def test_a_value_is_heard_only_where_it_is_asked_for():
    assert not spoken_at("mark-bite").hear("shade a two")
    assert not spoken_at("topical").hear("shade a two")
    assert not spoken_at("take-shade").hear("one cartridge lidocaine")
    assert not chair(PLAN).hear("weight seven zero kilos")


def test_later_a_top_up_is_half_a_cartridge_or_one():
    going = spoken_at("open-cavity")
    assert not going.hear("two cartridges lidocaine")
    going.say("half a cartridge lidocaine", "confirm that", "one cartridge articaine")
    assert going.state.question is not None


def test_a_weight_of_the_case_is_not_asked_for_again():
    assert "weight" not in {slot.id for slot in plan_for().slots}
    assert not chair(plan_for(), "allergies").hear("weight seven zero kilos")


def test_undo_of_an_entry_leaves_timers_and_facts_alone():
    going = spoken_at("log-anaesthetic").say("one cartridge lidocaine", "confirm that")
    before = going.state
    going.say("take that back")
    assert going.values == []
    assert (going.state.timers, going.state.facts) == (before.timers, before.facts)
    assert going.state.step == before.step


def test_a_second_undo_goes_on_to_what_was_done_before():
    going = spoken_at("log-anaesthetic").say("one cartridge lidocaine", "confirm that")
    going.say("take that back", "take that back")
    assert going.state.step == "recap"


def test_a_value_said_again_replaces_the_last():
    going = spoken_at("allergies")
    going.say("weight seven zero kilos", "confirm that", "weight seven one kilos", "confirm that")
    assert going.values == ["71"]
    going.say("take that back")
    assert going.values == ["70"]


def test_the_view_shows_values_and_what_may_be_said_in_few_lines():
    going = spoken_at("allergies").say("weight seven zero kilos", "confirm that")
    shown = view(MACHINE, going.state, going.state.now)
    assert shown.values == ("Weight 70 kilos",)
    assert shown.count == ()
    phrases = [each.phrase for each in shown.phrases]
    assert "weight three zero kilos ... weight one five zero kilos" in phrases
    assert len(phrases) < 50


def test_values_of_a_slot_are_symmetric():
    """Which value it is changes words and counts alone: what the exploration rests on."""
    for step in STEPS:
        going = spoken_at(step)
        outcomes = set()
        for cue in MACHINE.cues_now(going.state):
            if cue.id not in SLOT_OF or SLOT_OF[cue.id][0] in ("tooth", "surfaces"):
                continue
            state, _ = MACHINE.step(going.state, CueGiven(going.state.now, cue.id))
            state, _ = MACHINE.step(state, CueGiven(state.now, "confirm"))
            bare = replace(state, values=(), last_said="")
            outcomes.add((SLOT_OF[cue.id][0], repr(bare)))
        assert len(outcomes) == len({slot for slot, _ in outcomes})


def test_two_values_of_a_slot_stand_for_all():
    few = fewer_values(PLAN)
    assert [slot.id for slot in few.slots] == [slot.id for slot in PLAN.slots]
    assert max(len(slot.values) for slot in few.slots) == 2
    assert SessionMachine(few).first() == MACHINE.first()


def test_every_value_has_a_key_or_two():
    from sidecue.session.keys import CHORDS, keys_for

    going = spoken_at("allergies")
    cues = MACHINE.cues_now(going.state)
    keys = keys_for(cues, [cues[0].id])
    assert {cue.id for cue in keys.values()} == {cue.id for cue in cues}
    assert all(len(key) == 2 for key in keys if key[0] in CHORDS)
