"""What can happen next in a state: every event of the language, each once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from enum import StrEnum

from sidecue.procedure.plan import Cue, Plan, Tier
from sidecue.proof.abstraction import INSTANT, NOW, Abstraction, lapsing_first, ringing_first
from sidecue.session import timers as t
from sidecue.session.events import (
    CueGiven,
    DeviceBack,
    DeviceLost,
    Event,
    HearingRefused,
    TimePassed,
)
from sidecue.session.machine import SessionMachine
from sidecue.session.prompts import short_name
from sidecue.session.state import Asking, Mode, SessionState


class Kind(StrEnum):
    """What kind of event a move is."""

    CUE = "cue"
    RING = "ring"
    LAPSE = "lapse"
    LATE = "late"  # an answer that comes once the question has lapsed
    RESTART = "restart"
    UNHEARD = "unheard"
    DEVICE = "device"
    UNDO = "undo"  # right after the act that it takes back


@dataclass(frozen=True, slots=True)
class Move:
    """One thing that happens, without its time."""

    kind: Kind
    cue: Cue | None = None
    timer: str = ""
    ring: t.Ring | None = None

    @property
    def given(self) -> str:
        """The cue that is said and may count; empty for anything else."""
        return self.cue.id if self.cue is not None and self.kind is Kind.CUE else ""

    def told(self) -> str:
        """Return the move as a line of a dialogue."""
        if self.cue is not None and self.kind is Kind.LATE:
            return f'wait until the question has lapsed, then say "{self.cue.phrases[0]}"'
        if self.cue is not None:
            return f'say "{self.cue.phrases[0]}"'
        if self.kind is Kind.RING and self.ring is not None:
            rings = {t.Ring.WARN: "warns", t.Ring.RIPE: "is ripe", t.Ring.OVER: "is over"}
            return f"wait until {short_name(self.timer)} {rings[self.ring]}"
        return {
            Kind.LAPSE: "wait until the question lapses",
            Kind.RESTART: "restart the program",
            Kind.UNHEARD: "say something else",
            Kind.DEVICE: "unplug the microphone",
        }.get(self.kind, self.kind.value)


@dataclass(frozen=True, slots=True)
class Trial:
    """A move as the machine takes it: a state of the form, and the event."""

    move: Move
    state: SessionState
    event: Event


RESTART = Move(Kind.RESTART)
LAPSE = Move(Kind.LAPSE)


def place_of(state: SessionState) -> tuple[object, ...]:
    """Return where what leaves the work as it is need be tried but once: step, part, mode and kind
    of question (which step, happening or emergency was asked about, no such answer reads)."""
    asked = state.question
    about: tuple[str, ...] = () if asked is None else (asked.about,)
    if asked is not None and asked.about is Asking.VALUE:
        about = (asked.about, asked.target)  # other values of its slot answer it
    return state.step, state.under_way, state.mode, about


def time_trials(state: SessionState) -> Iterator[Trial]:
    """Yield what the clock can do next: each timer first, or the question's end first."""
    for timer in state.timers:
        due = t.next_ring(timer)
        if due is not None:
            move = Move(Kind.RING, timer=timer.spec.name, ring=due[1])
            soon = ringing_first(state, timer)
            yield Trial(move, soon, TimePassed(NOW + 2 * INSTANT))
    if state.question is not None:
        yield Trial(LAPSE, lapsing_first(state), TimePassed(NOW + 2 * INSTANT))


def cue_trial(state: SessionState, cue: Cue) -> Trial:
    """Return `cue` given now."""
    return Trial(Move(Kind.CUE, cue), state, CueGiven(NOW, cue.id, phrase=cue.phrases[0]))


def aside_trials(
    machine: SessionMachine, abstraction: Abstraction, state: SessionState, cues: tuple[Cue, ...]
) -> Iterator[Trial]:
    """Yield what leaves the work as it is, and reads neither facts nor timers.

    These are tried once at each place (`place_of`).
    """
    yield Trial(Move(Kind.UNHEARD), state, HearingRefused(NOW, "no cue"))
    lost = Trial(Move(Kind.DEVICE), state, DeviceLost(NOW, "microphone"))
    yield lost
    gone = replace(state, lost=frozenset({"microphone"}))
    yield Trial(Move(Kind.DEVICE), gone, DeviceBack(NOW, "microphone"))
    if state.question is not None:
        late = lapsing_first(state)
        for cue in cues:
            if cue.tier is Tier.GUARDED:
                move = Move(Kind.LATE, cue)
                yield Trial(move, late, CueGiven(NOW + 2 * INSTANT, cue.id))
    elif state.mode is Mode.RUNNING:
        counted = abstraction.with_entry(state)
        for cue in machine.cues_now(counted):
            if cue.id == "strike":
                yield cue_trial(counted, cue)


@dataclass(frozen=True, slots=True)
class Cues:
    """The cues of one form, by what trying them can bring."""

    acting: tuple[Cue, ...]  # can change the work, or lead to something that does
    leaving: tuple[Cue, ...]  # a pause and one emergency: tried once for each set of timers
    aside: tuple[Cue, ...]  # changes nothing here; tried once at each place
    alarms: tuple[Cue, ...]  # the emergencies: each once at each step in each mode


#: Cues that read neither facts nor timers: they leave the work for a pause, or put a question away.
_ASIDE = frozenset({"quiet", "pause", "deny", "undo"})


class Sorting:
    """Divides the cues of one plan's states. Of skip reasons and values, one of each kind is
    followed everywhere."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._values = {value.cue.id: slot.id for slot in plan.slots for value in slot.values}
        self._values |= {slot.others.id: slot.id for slot in plan.slots if slot.others is not None}
        self._reasons = frozenset(cue.id for cue in plan.skip_reasons)

    def divided(self, state: SessionState, cues: tuple[Cue, ...]) -> Cues:
        """Return `cues`, which may be said in `state`, divided."""
        step = self._plan.steps[self._plan.step_index[state.step]]
        settling = frozenset(step.asks) if step.settles else frozenset[str]()
        acting: list[Cue] = []
        aside: list[Cue] = []
        alarms: list[Cue] = []
        pause: list[Cue] = []
        reasoned = False
        for cue in cues:
            if cue.tier is Tier.ALARM:
                alarms.append(cue)
                if len(alarms) > 1:
                    continue  # the first is tried wherever anything is
            elif cue.id == "pause" and state.question is None:
                pause.append(cue)
            idle = cue.tier.always or cue.tier is Tier.FREE or cue.id in _ASIDE
            if cue.id in self._values:
                idle = self._values[cue.id] not in settling
            elif cue.id in self._reasons:
                idle, reasoned = reasoned, True
            (aside if idle else acting).append(cue)
        return Cues(tuple(acting), (*pause, *alarms[:1]), tuple(aside), tuple(alarms))
