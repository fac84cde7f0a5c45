"""Every trigger in every mode: what is legal is taken, what is not raises and changes nothing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from builder import EMERGENCIES, REASONS, TIERS, Visit, finished_visit, small_plan, visit, visit_at

from sidecue.session.effects import Chime, ChimeKind, Say, Urgency
from sidecue.session.events import (
    CueGiven,
    DeviceBack,
    DeviceLost,
    Event,
    HearingRefused,
    Restarted,
    Started,
    TimePassed,
)
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode

ALARMS = {emergency.cue.id for emergency in EMERGENCIES}
FREE = {"repeat", "what-next", "how-long", "which-tooth", "status"}
EVERY_CUE = sorted(
    {*TIERS, *ALARMS, *(reason.id for reason in REASONS), "saliva", "bad-mix"}
    | {each.id for step in small_plan().steps for each in (step.begin, step.done) if each}
)


def before_start() -> Visit:
    machine = SessionMachine(small_plan())
    return Visit(machine, machine.first())


def while_asking_for_a_reason() -> Visit:
    return visit_at("look.done").cue("skip")


def while_asking_about_saliva() -> Visit:
    return visit_at("dentine.done").cue("saliva")


def in_an_emergency() -> Visit:
    return visit_at("dentine.done").cue("emergency.splash")


MODES = {
    "ready": (before_start, set()),
    "running, before begin": (
        lambda: visit_at("cure.begin"),
        FREE
        | ALARMS
        | {"quiet", "undo", "skip", "pause", "cure.begin", "cure.done", "saliva"}
        | {"mix.done", "pack.done", "leave.done"},  # ahead: two steps, and what a rule guards
    ),
    "running, under way": (
        lambda: visit_at("cure.done"),
        FREE
        | ALARMS
        | {"quiet", "undo", "skip", "pause", "cure.done", "saliva"}
        | {"mix.done", "pack.done", "leave.done"},
    ),
    "asking for a reason": (
        while_asking_for_a_reason,
        ALARMS | {"not-needed", "clinician-decides", "deny", "repeat", "quiet", "pause"},
    ),
    "asking for a confirmation": (
        while_asking_about_saliva,
        ALARMS | {"confirm", "deny", "repeat", "quiet", "pause"},
    ),
    "paused": (lambda: visit_at("cure.done").cue("pause"), FREE | ALARMS | {"quiet", "resume"}),
    "emergency": (in_an_emergency, FREE | ALARMS | {"quiet", "emergency-over"}),
    "asking whether it is over": (
        lambda: in_an_emergency().cue("emergency-over"),
        ALARMS | {"confirm", "deny", "repeat", "quiet"},
    ),
    "finished": (finished_visit, set()),
}


@pytest.mark.parametrize("name", MODES)
def test_exactly_these_cues_count(name: str) -> None:
    make, expected = MODES[name]
    assert make().active == expected


@pytest.mark.parametrize("name", MODES)
@pytest.mark.parametrize("cue", EVERY_CUE)
def test_a_cue_is_taken_or_raises_and_changes_nothing(name: str, cue: str) -> None:
    make, expected = MODES[name]
    going = make()
    before = going.state
    event = CueGiven(before.now, cue)
    if cue in expected:
        going.give(event)
        assert going.effects, "every cue that counts is answered"
        return
    with pytest.raises(IllegalEvent) as raised:
        going.give(event)
    assert raised.value.event is event
    assert raised.value.state is before
    allowed = expected or ({"started"} if name == "ready" else set())
    assert set(raised.value.allowed) == allowed
    assert cue in str(raised.value)
    assert before.step in str(raised.value)
    assert going.state is before


OTHER_EVENTS: dict[str, type[Event]] = {
    "started": Started, "restarted": Restarted, "time": TimePassed, "refused": HearingRefused,
    "lost": DeviceLost, "back": DeviceBack,
}  # fmt: skip


@pytest.mark.parametrize("name", MODES)
@pytest.mark.parametrize("kind", OTHER_EVENTS)
def test_other_events(name: str, kind: str) -> None:
    going = MODES[name][0]()
    before, at = going.state, going.state.now
    event: Event = {
        "started": Started(at), "restarted": Restarted(at), "time": TimePassed(at),
        "refused": HearingRefused(at, "not a cue"), "lost": DeviceLost(at, "microphone"),
        "back": DeviceBack(at, "microphone"),
    }[kind]  # fmt: skip
    legal = {
        "started": name == "ready",
        "restarted": name not in ("ready", "finished"),
    }.get(kind, name != "ready")
    if legal:
        going.give(event)
        assert going.state.live or name == "finished"
        return
    with pytest.raises(IllegalEvent):
        going.give(event)
    assert going.state is before


@pytest.mark.parametrize("at", [-1.0, 6.999, float("nan"), float("inf")])
def test_time_that_runs_backwards_or_is_none_raises(at: float) -> None:
    going = visit().wait(7)
    before = going.state
    event = TimePassed(at)
    with pytest.raises(IllegalEvent) as raised:
        going.give(event)
    assert raised.value.event is event
    assert raised.value.allowed == ("7 s or later",)
    assert going.state is before


@pytest.mark.parametrize("name", [name for name in MODES if name not in ("ready", "finished")])
def test_every_live_state_can_pause_or_is_paused_and_takes_every_emergency(name: str) -> None:
    going = MODES[name][0]()
    assert "pause" in going.active or going.state.mode in (Mode.PAUSED, Mode.EMERGENCY)
    assert going.active >= ALARMS


@pytest.mark.parametrize("cue", sorted(FREE))
def test_a_free_cue_changes_nothing(cue: str) -> None:
    going = visit_at("cure.done")
    before = going.state
    going.cue(cue)
    assert going.state == before
    assert going.said


def test_a_refused_hearing_changes_nothing_and_is_never_spoken() -> None:
    going = visit_at("cure.done")
    before = going.state
    going.give(HearingRefused(before.now + 1, "not a cue", "curling is done"))
    assert going.state == replace(before, now=before.now + 1)
    assert going.effects == ()


def test_a_device_that_went_away_is_named_and_so_is_its_return() -> None:
    going = visit_at("cure.done")
    going.give(DeviceLost(going.state.now, "microphone"))
    assert going.effects == (
        Chime(ChimeKind.DUE), Say("The microphone is lost.", Urgency.ALARM),
    )  # fmt: skip
    assert going.state.lost == {"microphone"}
    going.give(DeviceBack(going.state.now, "microphone"))
    assert going.effects == (Say("The microphone is back."),)
    assert going.state.lost == set()


def test_a_plan_with_an_open_question_is_not_run() -> None:
    from sidecue.procedure.plan import Question

    asked = replace(small_plan(), questions=(Question("etchant", "How long?", "enter it"),))
    with pytest.raises(ValueError, match="open questions"):
        SessionMachine(asked)
