"""What happened in a session, as plain data: the one thing every record is written from.

All times are seconds on the session's clock. Nothing here is stored; `telling.tell` makes it from
the journal whenever it is wanted.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from sidecue.procedure.plan import Plan, Step, TimerSpec
from sidecue.session.advising import ADVICE_SHEET
from sidecue.session.events import Source
from sidecue.session.state import SessionState, Value


class Outcome(StrEnum):
    """How a step ended."""

    DONE = "done"
    LEFT_OUT = "left out"
    OPEN = "open"  # reached, and not completed since
    NOT_REACHED = "not reached"


@dataclass(frozen=True, slots=True)
class StepStory:
    """One step. It may be reached more than once when the procedure went back."""

    step: Step
    arrived: tuple[float, ...]
    begun: tuple[float, ...]
    done: tuple[float, ...]
    outcome: Outcome


@dataclass(frozen=True, slots=True)
class CueStory:
    """A cue that reached the machine; `refused` says why it was not carried out, or is empty."""

    at: float
    cue: str
    phrase: str
    source: Source
    refused: str
    rule: str


@dataclass(frozen=True, slots=True)
class Unheard:
    """Something was heard and not accepted."""

    at: float
    why: str
    nearest: str


@dataclass(frozen=True, slots=True)
class TimerStory:
    """What a timer was asked to run and what it ran, in seconds."""

    spec: TimerSpec
    step: str
    started: float
    least: float | None  # asked for, after `no_less_than`
    ran: float | None  # None unless it ended
    #: KeptTimer's; of a count-down also "stopped" (before its time) or "unheard" (nobody was told,
    #: in an emergency); "running", or "overdue" without an end; "taken back" with the words that
    #: started it.
    verdict: str


@dataclass(frozen=True, slots=True)
class FactStory:
    """A fact that came true, or stopped being true, and by what. `expected` when a step ended it
    in its own course; not when something went wrong or was taken back."""

    at: float
    fact: str
    holds: bool
    by: str
    expected: bool = True


@dataclass(frozen=True, slots=True)
class ValueStory:
    """A value that was read back and confirmed; `ended` is when it was taken back, and `how` by
    what: "taken back", "struck" or "replaced". None and empty while it stands."""

    value: Value
    say: str  # as it was read back: "Shade A2"
    ended: float | None = None
    how: str = ""
    planned: str = ""  # what the plan says, where that is something else


@dataclass(frozen=True, slots=True)
class SkipStory:
    """A step left out, and the reason given."""

    at: float
    step: str
    reason: str


@dataclass(frozen=True, slots=True)
class Span:
    """A pause or an emergency; `ended` is None when the events stop before it is over."""

    what: str
    began: float
    ended: float | None


@dataclass(frozen=True, slots=True)
class Mark:
    """Something at one moment: a caution given, a device lost or back, a restart."""

    at: float
    what: str


@dataclass(frozen=True, slots=True)
class Story:
    """A session from its first event to its last."""

    plan: Plan
    final: SessionState
    started: float
    ended: float  # the last event
    finished: bool
    steps: tuple[StepStory, ...]
    cues: tuple[CueStory, ...]
    unheard: tuple[Unheard, ...]
    timers: tuple[TimerStory, ...]
    facts: tuple[FactStory, ...]
    values: tuple[ValueStory, ...]
    unspoken: tuple[Mark, ...]  # slots that a step asked for and was done without, and when
    skips: tuple[SkipStory, ...]
    pauses: tuple[Span, ...]
    emergencies: tuple[Span, ...]
    cautions: tuple[Mark, ...]  # by caution id
    devices: tuple[Mark, ...]  # "microphone lost", "microphone back"
    restarts: tuple[Mark, ...]
    prompts: int  # sentences given to the voice

    @property
    def confirmed(self) -> Mapping[str, float]:
        """Facts that came true and were not taken back, and when they last did. A fact whose
        time has passed (the dam is off again) was true all the same; and of one that came true
        twice, taking back the second time leaves the first."""
        times: dict[str, list[float]] = {}
        for fact in self.facts:
            known = times.setdefault(fact.fact, [])
            if fact.holds and fact.by != "undo":
                known.append(fact.at)
            elif not fact.holds and fact.by == "undo" and known:
                known.pop()
        return {fact: known[-1] for fact, known in times.items() if known}

    @property
    def advice_due(self) -> bool:
        """True once the advice may be given: when all is true that the step needs which hands it
        over (counts agreed, visit read out), and at the latest when the visit is complete."""
        known = self.confirmed
        return self.finished or any(
            set(each.step.needs) <= known.keys()
            for each in self.steps
            if ADVICE_SHEET in each.step.hand
        )

    @property
    def refusals(self) -> tuple[CueStory, ...]:
        """Cues that were understood and not carried out."""
        return tuple(cue for cue in self.cues if cue.refused)
