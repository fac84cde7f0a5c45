"""Driving a lesson: one step is spoken, then the trainee (or a chosen pace) asks for the next.

Speaking and listening come in as callables, so that text, voice, keys and tests drive the same
lesson. What is not understood changes nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from sidecue.procedure.plan import Cue, Tier
from sidecue.training.lesson import LessonLine


class Wish(StrEnum):
    """What a trainee may want after a step."""

    NEXT = "next"
    AGAIN = "again"
    BACK = "back"
    STOP = "stop"


#: What may be said or typed. The ids are wishes, so that a heard cue is a wish by name.
CUES = (
    Cue(Wish.NEXT, ("next step", "what comes next"), Tier.ADVANCE, "go on"),
    Cue(Wish.AGAIN, ("say it again", "one more time"), Tier.FREE, "say this step again"),
    Cue(Wish.BACK, ("go back one step", "step before"), Tier.ADVANCE, "go back one step"),
    Cue(Wish.STOP, ("stop the lesson", "end the lesson"), Tier.STOP, "end the lesson"),
)

_SHORT = {"": Wish.NEXT, **{wish.value: wish for wish in Wish}}


@dataclass(frozen=True, slots=True)
class Shadowed:
    """How far a lesson went."""

    sections_heard: int
    sections: int

    @property
    def whole(self) -> bool:
        """True when every step was spoken."""
        return self.sections_heard == self.sections


def wish_of(typed: str) -> Wish | None:
    """Return the wish in a typed line, or None when it is not wholly one. Enter alone is next."""
    text = " ".join(typed.lower().split())
    by_phrase = {phrase: Wish(cue.id) for cue in CUES for phrase in cue.phrases}
    return _SHORT.get(text) or by_phrase.get(text)


def asking(read: Callable[[], str | None], unsure: Callable[[], None]) -> Callable[[], Wish]:
    """Return a source of wishes from `read`, which returns a line, or None at the end of input.

    `unsure` is called for a line that is no wish; nothing else happens.
    """

    def wish() -> Wish:
        while (line := read()) is not None:
            known = wish_of(line)
            if known is not None:
                return known
            unsure()
        return Wish.STOP

    return wish


def pacing(seconds: float, sleep: Callable[[float], None]) -> Callable[[], Wish]:
    """Return a source of wishes that waits `seconds` after each step and goes on.

    Raises ValueError for a pace that is negative or no number.
    """
    if not 0.0 <= seconds < float("inf"):
        raise ValueError(f"a pace of {seconds} seconds is not possible; use 0 or more")

    def wish() -> Wish:
        sleep(seconds)
        return Wish.NEXT

    return wish


def sections(lines: Sequence[LessonLine]) -> tuple[tuple[LessonLine, ...], ...]:
    """Return `lines` cut where the trainee may ask for the next: opening, each step, closing."""
    return tuple(tuple(group) for _, group in groupby(lines, key=lambda line: line.step))


def shadow(
    lines: Sequence[LessonLine], say: Callable[[LessonLine], None], wish: Callable[[], Wish]
) -> Shadowed:
    """Speak the lesson section by section. `say` returns when a line has been spoken.

    Going back from the first section says it again.
    """
    parts = sections(lines)
    at = furthest = 0
    while at < len(parts):
        for line in parts[at]:
            say(line)
        furthest = max(furthest, at + 1)
        if at + 1 == len(parts):
            break
        match wish():
            case Wish.NEXT:
                at += 1
            case Wish.BACK:
                at = max(0, at - 1)
            case Wish.STOP:
                break
    return Shadowed(furthest, len(parts))
