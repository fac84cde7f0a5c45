"""Effects: what to do. Never stored; replay makes none happen."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Urgency(StrEnum):
    """Which prompt may interrupt which: a later member interrupts an earlier one."""

    ROUTINE = "routine"
    CAUTION = "caution"
    ALARM = "alarm"  # never dropped


class ChimeKind(StrEnum):
    """The three sounds, told apart by rhythm."""

    HEARD = "heard"
    REFUSED = "refused"
    DUE = "due"


@dataclass(frozen=True, slots=True)
class Say:
    """Speak `text`."""

    text: str
    urgency: Urgency = Urgency.ROUTINE


@dataclass(frozen=True, slots=True)
class Chime:
    """Play a chime."""

    kind: ChimeKind


@dataclass(frozen=True, slots=True)
class Silence:
    """Stop speaking at once."""


@dataclass(frozen=True, slots=True)
class Refuse:
    """A cue was understood and not carried out; `why` is also spoken by a `Say` beside it."""

    cue: str
    why: str
    rule: str = ""  # the interlock that held it, or empty


Effect = Say | Chime | Silence | Refuse
