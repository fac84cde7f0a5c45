"""The moments of a visit at which something else may be said: one grammar for each."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from sidecue.procedure.plan import Cue, Plan
from sidecue.session.machine import SessionMachine
from sidecue.session.situations import states

_APART = re.compile(r"[^a-z0-9]+")


@dataclass(frozen=True, slots=True)
class Moment:
    """What may be said at one moment: `addressed` after the address phrase, `bare` without it."""

    id: str  # letters, digits and hyphens: a file's and a rule's name
    title: str
    addressed: tuple[Cue, ...]
    bare: tuple[Cue, ...]


def moments(plan: Plan) -> Iterator[Moment]:
    """Yield every moment of `plan`, those that hear the same cues once.

    Every cue may follow the address phrase. Without it those of the stop tier count always, and
    all of them while an answer is awaited. Raises ValueError for a plan that may not start.
    """
    machine = SessionMachine(plan)
    met: set[tuple[bool, tuple[str, ...]]] = set()
    taken: set[str] = set()
    for title, state in states(plan):
        cues, answering = machine.cues_now(state), machine.answering(state)
        sign = (answering, tuple(cue.id for cue in cues))
        if sign in met:
            continue
        met.add(sign)
        name = _APART.sub("-", title.removeprefix("step ").lower()).strip("-")
        name = f"{name}-begun" if name in taken else name
        taken.add(name)
        bare = cues if answering else tuple(cue for cue in cues if cue.tier.always)
        yield Moment(name, title, cues, bare)
