"""Many plans at once: the same states and the same faults as each plan walked by itself."""

from __future__ import annotations

from dataclasses import replace

import pytest
from proof_plan import RULES, SALIVA, SHADE, STEPS, changed, small_plan

from sidecue.procedure.plan import Plan, SlotValue
from sidecue.proof.asking import ASKED_AGAIN, AUDIT, FORESEEN
from sidecue.proof.atlas import Atlas
from sidecue.proof.exploring import Explorer
from sidecue.proof.family import Family
from sidecue.proof.outlook import Outlook
from sidecue.proof.reaching import finishing
from sidecue.session.holds import Hold, Holds
from sidecue.session.listening import Listening
from sidecue.session.state import Asking, SessionState
from sidecue.session.voicing import Voice


def _without(*names: str) -> Plan:
    return small_plan(tuple(step for step in STEPS if step.id not in names))


#: Sound and unsound ones together: a fault of one must not show, nor hide, in another.
PLANS = {
    "as it is": small_plan(),
    "nothing is painted": _without("paint", "dry"),
    "nobody looks": _without("look"),
    "rinsed and looked at": small_plan((*STEPS[:4], replace(STEPS[1], id="look-again",
        done=replace(STEPS[1].done, id="look-again.done", phrases=("looked again",))), *STEPS[4:])),
    "no shield": _without("shield"),
    "light stays on": small_plan(changed("cure", voids=("shields-up",))),
    "shields stay up": small_plan(changed("cure", voids=("light-on",))),
    "etched without agreement": small_plan(changed("etch", needs=()), RULES[1:]),
    "counted nothing": small_plan(changed("count", establishes=())),
    "no happening": replace(small_plan(), happenings=()),
    "saliva is called by a later step's name": replace(small_plan(), happenings=(
        replace(SALIVA, cue=replace(SALIVA.cue, phrases=("saliva", *STEPS[5].begin.phrases))),)),
    "a shade is called by a later step's name": replace(small_plan(), slots=(replace(SHADE, values=(
        SlotValue("a", replace(SHADE.values[0].cue, phrases=STEPS[2].done.phrases), "Shade a"),
        *SHADE.values[1:])),)),
}  # fmt: skip


@pytest.fixture(scope="module")
def family() -> Family:
    """Walked with nothing reused unasked, and asked again of another plan than before."""
    return Family(list(PLANS.values()), [RULES] * len(PLANS), Atlas(), audit=1)


def test_every_plan_of_a_family_has_the_states_and_faults_it_has_by_itself(family: Family) -> None:
    found = family.explore()
    assert found.plans == len(PLANS)
    faults = {number: set() for number in range(len(PLANS))}  # type: ignore[var-annotated]
    states = 0
    for number, plan in enumerate(PLANS.values()):
        alone = Explorer(plan, RULES)
        result = alone.explore(most_violations=1000)
        states += result.states
        assert family.forms(number) == alone.forms, list(PLANS)[number]
        assert family.broken_of(number) == {each.broken for each in result.violations}
        faults[number] = family.broken_of(number)
    assert found.states == states
    assert found.nodes < states / 2, "nothing is shared"
    assert not faults[0]
    assert sum(1 for each in faults.values() if each) >= 4
    assert all(
        violation.way or "'agree'" in violation.broken.what for _, violation in found.violations
    )


def test_where_a_happening_has_a_later_steps_phrase_every_offer_is_asked_about(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The step's own cue comes first at its step; before it, what is offered decides."""
    plan = PLANS["saliva is called by a later step's name"]
    look = Outlook(plan, RULES, Atlas())
    assert [look.unsure(here) for here in range(6)] == [True] * 5 + [False]
    monkeypatch.setattr(Outlook, "unsure", lambda *_: False)
    careless = Family([plan], [RULES], Atlas(), audit=1)
    careless.walk()
    assert ASKED_AGAIN in {broken.name for broken in careless.broken_of(0)}


def test_a_second_family_asks_the_machine_only_for_what_is_new() -> None:
    atlas = Atlas()
    first = Family([small_plan()], [RULES], atlas).explore()
    again = Family([small_plan()], [RULES], atlas).explore()
    assert first.tried > 0
    assert again.tried == 0
    assert again.states == first.states


def _faults(plan: Plan, audit: int = AUDIT) -> set[str]:
    family = Family([plan], [RULES], Atlas(), audit)
    family.walk()
    return {broken.name for broken in family.broken_of(0)}


def test_a_machine_that_lets_jumps_through_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    leaving_out = Holds.leaving_out

    def careless(self: Holds, state: SessionState, beyond: int) -> Hold | None:
        hold = leaving_out(self, state, beyond)
        return hold if hold is not None and "begun" in hold.why else None

    monkeypatch.setattr(Holds, "leaving_out", careless)
    assert FORESEEN in _faults(small_plan(STEPS[:5]))


def test_a_machine_that_breaks_down_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(self: object, *_: object) -> None:
        raise ValueError("no such place")

    monkeypatch.setattr("sidecue.session.machine.SessionMachine._ask_skip", broken)
    assert "the machine answers" in _faults(small_plan(STEPS[:3]))


def test_a_machine_that_answers_by_what_it_should_not_read_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """What is asked once and used for many states must not depend on anything else."""
    ask = Voice.ask

    def moody(self: Voice, state: SessionState, *more: object) -> object:
        if more[0] is Asking.HAPPENING and "rinsed" in state.facts:
            return state, ()
        return ask(self, state, *more)  # type: ignore[arg-type]

    monkeypatch.setattr(Voice, "ask", moody)
    assert ASKED_AGAIN in _faults(small_plan(), audit=1)


def test_a_machine_that_does_not_listen_for_a_pause_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    now = Listening.now
    monkeypatch.setattr(
        Listening, "now", lambda self, state: tuple(c for c in now(self, state) if c.id != "pause")
    )
    assert "pause in one utterance" in _faults(small_plan(STEPS[:5]))


def test_what_can_finish_is_told_for_each_plan() -> None:
    # 0 -> 1 for both plans, 1 -> 2 for the first alone, 2 is the end.
    assert finishing([{1: 0b11}, {2: 0b01}, {}], {2: 0b11}) == [0b01, 0b01, 0b11]
