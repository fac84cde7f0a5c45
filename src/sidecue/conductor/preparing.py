"""What a visit may have to say, in the order it may be needed, to be rendered ahead.

The machine itself is asked: it is pure, so walking through a visit that goes straight, and trying
at each moment what could be said there, finds every sentence as it will be worded.
"""

from __future__ import annotations

from collections.abc import Iterator

from sidecue.procedure.plan import Cue
from sidecue.session.effects import Refuse, Say
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
    return (text for text, _ in foreseen(machine))


def foreseen(machine: SessionMachine) -> Iterator[tuple[str, SessionState]]:
    """Yield each sentence once with a state in which it is said."""
    known: set[str] = set()
    for state, effects in _turns(machine):
        for effect in effects:
            if isinstance(effect, Say) and effect.text not in known:
                known.add(effect.text)
                yield effect.text, state


def _turns(machine: SessionMachine) -> Iterator[Turn]:
    turn = machine.step(machine.first(), Started(0.0))
    yield turn
    asked: set[str] = set()
    while turn[0].live:
        onward = _onward(machine, turn[0])
        if onward is None:
            return
        yield onward  # before all else: most visits go straight
        yield from _beside(machine, turn[0], asked)
        turn = onward


def _onward(machine: SessionMachine, state: SessionState) -> Turn | None:
    """The turn of the step's own cue, after waiting for a timer that holds it back."""
    cues = machine.cues_now(state)
    cue = next((each for each in cues if each.id == "confirm"), cues[0])
    for _ in range(10):  # a step may wait for several ends
        turn = machine.step(state, _given(state, cue))
        if not any(isinstance(effect, Refuse) for effect in turn[1]):
            return turn
        due = machine.next_deadline(state)
        if due is None:
            return None
        state, _ = machine.step(state, TimePassed(max(due, state.now)))
    return None


def _beside(machine: SessionMachine, state: SessionState, asked: set[str]) -> Iterator[Turn]:
    """Where the visit does not go straight: one cue from `state`, and one more where that is a
    question. `asked` holds the cues whose questions were followed."""
    for cue in machine.cues_now(state):
        after, effects = machine.step(state, _given(state, cue))
        yield after, effects
        if after.question is not None and cue.id not in asked:
            asked.add(cue.id)
            yield from (
                machine.step(after, _given(after, answer)) for answer in machine.cues_now(after)
            )
    for device in _DEVICES:
        lost = machine.step(state, DeviceLost(state.now, device))
        yield lost
        yield machine.step(lost[0], DeviceBack(state.now, device))
    for _ in range(6):  # warning, end, reminders
        due = machine.next_deadline(state)
        if due is None:
            return
        state, effects = machine.step(state, TimePassed(max(due, state.now)))
        yield state, effects


def _given(state: SessionState, cue: Cue) -> CueGiven:
    return CueGiven(state.now + _PACE, cue.id)
