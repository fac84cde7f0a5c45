"""What a visit may have to say, in the order it may be needed, to be rendered ahead.

The machine itself is asked: it is pure, so walking through a visit that goes straight, and trying
at each moment what could be said there, finds every sentence as it will be worded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sidecue.procedure.plan import Cue
from sidecue.session.effects import Effect, Refuse, Say
from sidecue.session.events import CueGiven, DeviceBack, DeviceLost, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState
from sidecue.session.voicing import Turn

_PACE = 1.0  # s of the session between two cues of the walk
_DEVICES = ("microphone", "loudspeaker")


def likely_prompts(machine: SessionMachine) -> Iterator[str]:
    """Yield each sentence once, the soonest first: what the next step says, what each cue would
    be answered there, what would follow a question, and what a timer would say.

    What depends on the second it is said in ("Wait 17 more seconds.") cannot be known.
    """
    return _once(_said(machine))


def _once(texts: Iterable[str]) -> Iterator[str]:
    known: set[str] = set()
    for text in texts:
        if text not in known:
            known.add(text)
            yield text


def _said(machine: SessionMachine) -> Iterator[str]:
    state, effects = machine.step(machine.first(), Started(0.0))
    yield from _texts(effects)
    asked: set[str] = set()
    while state.live:
        onward = _onward(machine, state)
        if onward is None:
            return
        yield from _texts(onward[1])  # before all else: most visits go straight
        yield from _beside(machine, state, asked)
        state = onward[0]


def _onward(machine: SessionMachine, state: SessionState) -> Turn | None:
    """The state after the step's own cue, after waiting for a timer that holds it back."""
    cues = machine.cues_now(state)
    cue = next((each for each in cues if each.id == "confirm"), cues[0])
    for _ in range(10):  # a step may wait for several ends
        after, effects = machine.step(state, CueGiven(state.now + _PACE, cue.id))
        if not any(isinstance(effect, Refuse) for effect in effects):
            return after, effects
        due = machine.next_deadline(state)
        if due is None:
            return None
        state, _ = machine.step(state, TimePassed(max(due, state.now)))
    return None


def _beside(machine: SessionMachine, state: SessionState, asked: set[str]) -> Iterator[str]:
    """What is said where the visit does not go straight: one cue from `state`, and one more where
    that is a question. `asked` holds the cues whose questions were followed."""
    for cue in machine.cues_now(state):
        after, effects = machine.step(state, CueGiven(state.now + _PACE, cue.id))
        yield from _texts(effects)
        if after.question is not None and cue.id not in asked:
            asked.add(cue.id)
            for answer in machine.cues_now(after):
                yield from _texts(machine.step(after, _given(after, answer))[1])
    for device in _DEVICES:
        lost, effects = machine.step(state, DeviceLost(state.now, device))
        yield from _texts((*effects, *machine.step(lost, DeviceBack(lost.now, device))[1]))
    for _ in range(6):  # warning, end, reminders
        due = machine.next_deadline(state)
        if due is None:
            return
        state, effects = machine.step(state, TimePassed(max(due, state.now)))
        yield from _texts(effects)


def _given(state: SessionState, cue: Cue) -> CueGiven:
    return CueGiven(state.now + _PACE, cue.id)


def _texts(effects: Iterable[Effect]) -> Iterator[str]:
    return (effect.text for effect in effects if isinstance(effect, Say))
