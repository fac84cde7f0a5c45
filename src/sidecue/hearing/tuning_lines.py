"""What is said in a sitting of tuning: phrases of a plan, each with the moment it counts in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TypeVar

from sidecue.hearing.port import Vocabulary
from sidecue.hearing.silence import in_silence
from sidecue.procedure.plan import Cue, Plan, Tier
from sidecue.procedure.vocabulary import all_cues
from sidecue.session.situations import situations

#: How many phrases of each tier: as many as a visit has steps for, and some of all the rest.
ASKED: Mapping[Tier, int] = {
    Tier.ADVANCE: 8,
    Tier.GUARDED: 4,
    Tier.FREE: 3,
    Tier.STOP: 2,
    Tier.ALARM: 2,
}
MOMENTS = 3  # steps, and as many questions, that ordinary talk is judged in
_QUESTION = ("a question", "a value read back")
_VALUE = "set."

_Item = TypeVar("_Item")


@dataclass(frozen=True, slots=True)
class Line:
    """One phrase to say: of which cue, and what else may be said at that moment.

    `said` is all of it: with the address phrase, unless its moment needs none.
    """

    cue: Cue
    phrase: str
    said: str
    moment: Vocabulary


class Script:
    """The lines of a plan."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._where: dict[str, Vocabulary] = {}
        self._cues: dict[str, Cue] = {}
        steps, questions = list[Vocabulary](), list[Vocabulary]()
        tiers = {cue.id: cue.tier for _, cue in all_cues(plan)}
        for name, cues in situations(plan):
            asked = name.startswith(_QUESTION)
            moment = Vocabulary(
                cues, plan.address, asked, decoys=plan.decoys, pronunciations=plan.pronunciations
            )
            (questions if asked else steps).append(in_silence(moment))
            for cue in cues:
                if cue.id not in self._where and cue.tier is tiers.get(cue.id):
                    self._where[cue.id], self._cues[cue.id] = moment, cue
        self.moments = (*_spread(steps, MOMENTS), *_spread(questions, MOMENTS))

    def chosen(self) -> tuple[Line, ...]:
        """Some twenty lines in the order of the visit: each tier's cues, evenly spread."""
        wanted: list[str] = []
        seen: set[str] = set()
        slots: set[str] = set()
        by_tier: dict[Tier, list[Cue]] = {tier: [] for tier in Tier}
        for cue in self._cues.values():
            slot = cue.id.rsplit(".", 1)[0] if cue.id.startswith(_VALUE) else cue.id
            if cue.phrases[0] not in seen and slot not in slots:  # one value stands for a slot
                seen.add(cue.phrases[0])
                slots.add(slot)
                by_tier[cue.tier].append(cue)
        for tier, many in ASKED.items():
            wanted += [cue.id for cue in _spread(by_tier[tier], many)]
        return tuple(self._line(self._cues[each], 0) for each in self._cues if each in wanted)

    def every(self) -> Iterator[Line]:
        """Yield a line for each phrase of each cue."""
        for cue in self._cues.values():
            for number in range(len(cue.phrases)):
                yield self._line(cue, number)

    def others(self, line: Line) -> tuple[Line, ...]:
        """The other phrases of a line's cue."""
        each = (self._line(line.cue, number) for number in range(len(line.cue.phrases)))
        return tuple(other for other in each if other.phrase != line.phrase)

    def _line(self, cue: Cue, number: int) -> Line:
        moment, phrase = self._where[cue.id], cue.phrases[number]
        bare = moment.bare or cue.tier.always
        return Line(cue, phrase, phrase if bare else f"{self._plan.address} {phrase}", moment)


def _spread(items: Sequence[_Item], many: int) -> Sequence[_Item]:
    """Return `many` of `items`, from the first to the last at equal steps."""
    if len(items) <= many:
        return items
    return [items[round(at * (len(items) - 1) / max(1, many - 1))] for at in range(many)]
