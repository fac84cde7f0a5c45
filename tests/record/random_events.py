"""Events drawn at random: any event for the codec, plausible visits for the machine."""

from __future__ import annotations

from collections.abc import Iterable

from hypothesis import strategies as st
from small_visit import small_plan

from sidecue.procedure.plan import Plan
from sidecue.session.events import (
    CueGiven,
    DeviceBack,
    DeviceLost,
    Event,
    HearingRefused,
    Restarted,
    Source,
    Started,
    TimePassed,
)
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

_times = st.floats(allow_nan=False, allow_infinity=False)
_text = st.text(max_size=30)


def any_event() -> st.SearchStrategy[Event]:
    """Every field as wide as its type allows."""
    return st.one_of(
        st.builds(Started, _times),
        st.builds(CueGiven, _times, _text, st.sampled_from(Source), _text, _times),
        st.builds(HearingRefused, _times, _text, _text, _times),
        st.builds(TimePassed, _times),
        st.builds(DeviceLost, _times, _text),
        st.builds(DeviceBack, _times, _text),
        st.builds(Restarted, _times),
    )


def _cue_ids() -> list[str]:
    plan = small_plan()
    ids = [step.done.id for step in plan.steps]
    ids += [step.begin.id for step in plan.steps if step.begin is not None]
    ids += [cue.id for cue in (*plan.cues, *plan.skip_reasons)]
    ids += [happening.cue.id for happening in plan.happenings]
    return [*ids, *(emergency.cue.id for emergency in plan.emergencies)]


@st.composite
def event_lists(draw: st.DrawFn) -> list[Event]:
    """A started visit: cues, silences, refusals and lost devices, the clock only forwards."""
    at = 0.0
    events: list[Event] = [Started(at)]
    path = [step_cue for step in small_plan().steps for step_cue in (step.begin, step.done)]
    straight = [cue.id for cue in path if cue is not None]
    kinds = st.sampled_from(["straight", "straight", "cue", "time", "refused", "lost", "restart"])
    for kind in draw(st.lists(kinds, max_size=40)):
        at += draw(st.floats(0.0, 20.0))
        match kind:
            case "straight" if straight:
                events.append(CueGiven(at, straight.pop(0)))
            case "cue" | "straight":
                events.append(CueGiven(at, draw(st.sampled_from(_cue_ids())), Source.TEXT))
            case "time":
                events.append(TimePassed(at))
            case "refused":
                events.append(HearingRefused(at, "too quiet", "undo", 0.2))
            case "lost":
                events.append(DeviceLost(at, "microphone"))
            case "restart":
                events.append(Restarted(at))
    return events


def taken(plan: Plan, events: Iterable[Event]) -> tuple[SessionState, list[Event]]:
    """Return the state after `events`, and those of them that were no illegal ones."""
    machine = SessionMachine(plan)
    state, accepted = machine.first(), list[Event]()
    for event in events:
        try:
            state, _ = machine.step(state, event)
        except IllegalEvent:
            continue
        accepted.append(event)
    return state, accepted
