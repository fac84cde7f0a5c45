"""The exploration finds what is broken and nothing else; its reductions hide nothing."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from random import Random

import pytest
from proof_plan import RULES, STEPS, changed, small_plan

from sidecue.procedure.plan import Plan, Rule, Step
from sidecue.proof.abstraction import Abstraction, Form
from sidecue.proof.exploring import Exploration, Explorer, explore
from sidecue.proof.laws import laws
from sidecue.proof.telling import dialogue, played
from sidecue.session.effects import Effect
from sidecue.session.events import CueGiven, Event, Restarted, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState
from sidecue.session.values import fewer_values
from sidecue.session.voicing import Turn, Voice


def names(found: Exploration) -> set[str]:
    return {violation.broken.name for violation in found.violations}


def test_a_sound_procedure_has_no_fault_in_any_reachable_state() -> None:
    found = explore(small_plan())
    assert found.violations == []
    assert found.states > 100
    assert found.transitions > 5 * found.states


def test_what_is_tried_once_at_each_place_reaches_the_same_states_as_trying_it_everywhere() -> None:
    plan = small_plan()
    few, every = Explorer(plan), Explorer(plan, every=True)
    quick, slow = few.explore(), every.explore()
    assert few.forms == every.forms
    assert quick.violations == slow.violations == []
    assert quick.transitions < slow.transitions / 1.5


@pytest.mark.parametrize("seed", range(40))
def test_every_state_of_a_session_at_any_pace_is_one_the_exploration_knew(seed: int) -> None:
    plan = fewer_values(small_plan())
    known = known_forms()
    machine, forms, random = SessionMachine(plan), Abstraction(plan, laws().never), Random(seed)
    state, _ = machine.step(machine.first(), Started(0.0))
    for _ in range(120):
        if not state.live:
            break
        due = machine.next_deadline(state)
        wait = random.choice((0.0, 0.4, 3.0, 11.0, 40.0, 250.0))
        kind = random.random()
        if kind < 0.25 and due is not None:
            state, _ = machine.step(state, TimePassed(max(due, state.now)))
        elif kind < 0.28:
            state, _ = machine.step(state, Restarted(state.now + wait))
        else:
            cues = machine.cues_now(state)
            own = [each for each in cues if each.id.startswith(state.step)]
            likely = [each for each in cues if each.id in ("confirm", "resume", "undo", "skip")]
            pool = own or cues if kind < 0.6 else likely or cues if kind < 0.85 else cues
            state, _ = machine.step(state, CueGiven(state.now + wait, random.choice(pool).id))
        assert forms.form_of(state) in known, state


@cache
def known_forms() -> frozenset[Form]:
    explorer = Explorer(fewer_values(small_plan()))
    explorer.explore()
    return explorer.forms


@pytest.mark.parametrize(
    ("steps", "broken"),
    [
        (changed("etch", establishes=()), "no dead end"),
        (changed("count", establishes=()), "every step can be done"),
        (changed("cure", voids=("light-on",)), "used up with light-on"),
        (changed("agree", say="One two three four five six seven eight nine."),
         "at most eight words"),
        (tuple(s for s in STEPS if s.id != "shield"), "no dead end"),
    ],
)  # fmt: skip
def test_a_damaged_procedure_is_told_by_the_property_it_breaks(
    steps: tuple[Step, ...], broken: str
) -> None:
    assert broken in names(explore(small_plan(steps)))


def test_shields_that_stay_up_are_told_even_where_nothing_else_reads_the_light() -> None:
    rules = tuple(rule for rule in RULES if "light-on" not in rule.never)
    plan = small_plan(changed("cure", voids=("light-on",)), rules)
    assert "used up with light-on" in names(explore(plan, rules))


@pytest.mark.parametrize("rule", [rule for rule in RULES if rule.act], ids=lambda rule: rule.id)
def test_a_plan_without_an_interlock_and_its_needs_breaks_it(rule: Rule) -> None:
    free = tuple(
        replace(each, needs=tuple(need for need in each.needs if need not in rule.needs))
        for each in STEPS
    )
    weakened = small_plan(free, tuple(each for each in RULES if each is not rule))
    assert f"interlock {rule.id}" in names(explore(weakened, RULES))


def test_a_counter_example_is_a_shortest_dialogue_that_plays_on_the_real_clock() -> None:
    plan = small_plan(changed("etch", needs=()), RULES[1:])
    found = explore(plan, RULES)
    violation = next(v for v in found.violations if v.broken.name == "interlock agree-first")
    assert list(dialogue(violation)) == [
        'say "etch done"',  # two steps ahead: asks, and takes a reason
        'say "clinician decides"',
        'say "etch done"',
    ]
    ended = played(plan, violation.way)
    assert ended is not None
    assert "etched" in ended.facts
    assert "agreed" not in ended.facts


# -- faults put into the machine itself: a proof that cannot fail proves nothing ------------------


def _broken_machine(plan: Plan) -> set[str]:
    return names(explore(plan))


def test_a_machine_that_forgets_minimums_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sidecue.session.holds.held_for", lambda timer, at: 0.0)
    assert "no hard minimum passed" in _broken_machine(small_plan())


def test_a_machine_that_forgets_interlocks_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sidecue.session.holds.violations", lambda *a: ())
    plan = small_plan(changed("cure", needs=("rinsed",)))
    assert "interlock shields-first" in _broken_machine(plan)


def test_a_machine_that_undoes_physical_facts_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    from sidecue.session import machine as module

    def forgetful(plan: Plan, state: object) -> object:
        last = state.history[-1]  # type: ignore[attr-defined]
        back, _ = taken_back(plan, state)
        return module.replace(back, facts=last.facts), None

    taken_back = module.taken_back
    monkeypatch.setattr(module, "taken_back", forgetful)
    assert "what was done stays done" in _broken_machine(small_plan())


def test_a_machine_that_spoils_in_silence_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("sidecue.session.timers.ALARMING", frozenset())
    assert "every hard maximum alarms" in _broken_machine(small_plan())


def test_a_machine_that_forgets_its_timers_when_it_comes_back_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    restart = SessionMachine._restart
    monkeypatch.setattr(
        SessionMachine, "_restart", lambda self, state: restart(self, replace(state, timers=()))
    )
    assert "a restart loses nothing" in _broken_machine(small_plan())


def test_a_machine_that_takes_an_answer_after_the_silence_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    step = SessionMachine.step

    def patient(self: SessionMachine, state: SessionState, event: Event) -> Turn:
        if isinstance(event, CueGiven) and state.question is not None:
            event = replace(event, at=state.now)
        return step(self, state, event)

    monkeypatch.setattr(SessionMachine, "step", patient)
    assert "silence means no" in _broken_machine(small_plan())


def test_a_machine_that_goes_two_steps_on_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    go_on = SessionMachine._go_on

    def hasty(
        self: SessionMachine, state: SessionState, place: str, left: Step, *said: Effect
    ) -> Turn:
        return go_on(self, state, "etch" if left.id == "agree" else place, left, *said)

    monkeypatch.setattr(SessionMachine, "_go_on", hasty)
    assert "a slip does no harm" in _broken_machine(small_plan())


def test_a_machine_that_forgets_the_work_after_an_emergency_is_found_out(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    says = Voice.says

    def shaken(self: Voice, state: SessionState, key: str, *more: object, **words: str) -> Turn:
        if key == "emergency-over":
            state = replace(state, under_way=False, timers=())
        return says(self, state, key, *more, **words)  # type: ignore[arg-type]

    monkeypatch.setattr(Voice, "says", shaken)
    assert "the end of an emergency changes nothing" in _broken_machine(small_plan())


def test_an_undo_that_ends_the_clock_of_what_is_mixed_is_found_out() -> None:
    """A maximum that starts with a mere word would be lost with it; here nothing was mixed."""
    words = small_plan(changed("mix", establishes=("looked",)))
    assert "no timer lost" in _broken_machine(words)
