"""Events: the only way into a session, and the only thing stored.

`at` is seconds on the session's clock (wall clock live, sample clock for a recording); it never
goes backwards.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Source(StrEnum):
    """Where a cue came from."""

    VOICE = "voice"
    KEY = "key"
    PEDAL = "pedal"
    TEXT = "text"
    BOARD = "board"


@dataclass(frozen=True, slots=True)
class Started:
    """The session begins at the first step."""

    at: float


@dataclass(frozen=True, slots=True)
class CueGiven:
    """A cue of this state was accepted (or keyed)."""

    at: float
    cue: str
    source: Source = Source.VOICE
    phrase: str = ""
    score: float = 1.0


@dataclass(frozen=True, slots=True)
class HearingRefused:
    """Something was heard and not accepted. Changes nothing; shown, never spoken."""

    at: float
    why: str
    nearest: str = ""
    score: float = 0.0


@dataclass(frozen=True, slots=True)
class TimePassed:
    """The clock reached `at`: timers due by then ring, an unanswered question lapses."""

    at: float


@dataclass(frozen=True, slots=True)
class DeviceLost:
    """The microphone or the loudspeaker went away."""

    at: float
    device: str


@dataclass(frozen=True, slots=True)
class DeviceBack:
    """It returned."""

    at: float
    device: str


@dataclass(frozen=True, slots=True)
class Restarted:
    """The program was started again on this session; the step is said again."""

    at: float


Event = Started | CueGiven | HearingRefused | TimePassed | DeviceLost | DeviceBack | Restarted
