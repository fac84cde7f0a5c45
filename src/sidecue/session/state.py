"""The state of a session: everything `machine.step` decides by, and nothing else."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from sidecue.procedure.plan import TimerSpec


class Mode(StrEnum):
    """What the session is doing, above the steps."""

    READY = "ready"  # not started
    RUNNING = "running"
    PAUSED = "paused"
    EMERGENCY = "emergency"
    FINISHED = "finished"


class Asking(StrEnum):
    """What an open question is about."""

    SKIP = "skip"  # answered by a reason
    JUMP = "jump"  # answered by the confirm cue
    HAPPENING = "happening"
    EMERGENCY_OVER = "emergency-over"
    STEP = "step"  # the current step's own cue, where a slip would do harm
    VALUE = "value"  # a value that was said, read back
    STRIKE = "strike"  # the last entry of a slot of many


@dataclass(frozen=True, slots=True)
class Question:
    """A guarded cue waiting for its different word. Silence until `lapses` means no."""

    about: Asking
    target: str  # step, happening, emergency or slot id
    cue: str  # the guarded cue that asked
    lapses: float
    say: str  # the read-back, for a screen and to say again


@dataclass(frozen=True, slots=True)
class RunningTimer:
    """A timer that was started and not yet stopped."""

    spec: TimerSpec
    step: str
    started: float
    least: float | None  # after `no_less_than` was worked out
    warned: bool = False
    ripe: bool = False  # `least` was announced
    overdue: bool = False


@dataclass(frozen=True, slots=True)
class KeptTimer:
    """A timer that ended: what it ran, and how."""

    name: str
    step: str
    started: float
    ran: float
    verdict: str  # "kept", "short", "overdue", "told"


@dataclass(frozen=True, slots=True)
class Skip:
    """A step left out, and why."""

    step: str
    reason: str


@dataclass(frozen=True, slots=True)
class Value:
    """A value that was said, read back and confirmed by a different word."""

    slot: str
    value: str  # as `SlotValue.value`
    at: float


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """Where one undo leads back to."""

    step: str
    under_way: bool
    facts: frozenset[str]
    done: tuple[str, ...]
    skips: tuple[Skip, ...]
    at: float  # when the act happened that this undoes
    ended: tuple[RunningTimer, ...]  # timers that act ended
    values: tuple[Value, ...] = ()
    entry: bool = False  # nothing but values changed
    standing: str | None = None  # a step whose physical facts already stood then


@dataclass(frozen=True, slots=True)
class SessionState:
    """A session at one moment. `step` is the current step's id, also while paused."""

    mode: Mode
    step: str
    now: float = 0.0
    under_way: bool = False
    facts: frozenset[str] = frozenset()
    done: tuple[str, ...] = ()
    skips: tuple[Skip, ...] = ()
    values: tuple[Value, ...] = ()  # those that stand, in the order they were confirmed
    timers: tuple[RunningTimer, ...] = ()
    kept: tuple[KeptTimer, ...] = ()
    question: Question | None = None
    emergency: str | None = None
    history: tuple[Checkpoint, ...] = ()
    standing: str | None = None  # the step undo came back to while its physical facts stand
    last_said: str = ""
    lost: frozenset[str] = frozenset()  # devices that went away

    @property
    def live(self) -> bool:
        """True between start and finish."""
        return self.mode not in (Mode.READY, Mode.FINISHED)
