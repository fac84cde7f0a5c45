"""Which prompt is heard first, which is cut short and which is dropped. Pure queue logic.

The rules:

1. Effects of one step of the session belong together and are heard in the order given.
2. A batch more urgent than what is being said cuts it short at once.
3. A cut caution is said again, whole, after what cut it. A cut routine prompt is not.
4. Routine words never wait behind newer routine words: the older are cut or dropped.
5. An equal or lesser batch waits for cautions and alarms.
6. An alarm is never dropped and never cut by anything but Silence.
7. Silence is obeyed at once. It ends the alarm that is sounding, which has then been heard,
   and drops all lesser prompts; an alarm that has not begun to sound is said after it.
8. A chime without words cuts nothing; it comes after the sound being played. The "due" chime
   without words ranks as a caution.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from sidecue.session.effects import Chime, ChimeKind, Effect, Refuse, Say, Silence, Urgency

_RANK = {urgency: rank for rank, urgency in enumerate(Urgency)}
_ROUTINE = _RANK[Urgency.ROUTINE]


@dataclass(frozen=True, slots=True)
class Item:
    """A prompt or a chime with the urgency of its batch, and when it sounds once that is known."""

    what: Say | Chime
    urgency: Urgency
    starts: float = 0.0
    ends: float = 0.0

    @property
    def rank(self) -> int:
        """Its urgency as a number; a greater one interrupts a lesser."""
        return _RANK[self.urgency]


@dataclass(frozen=True, slots=True)
class Verdict:
    """What the loudspeaker has to do, in this order."""

    silence: bool = False  # cut what sounds, drop what waits
    drop_last: int = 0  # or drop so many of those queued last
    play: tuple[Item, ...] = ()  # then queue these


def decide(queue: Iterable[Item], effects: Iterable[Effect], now: float) -> Verdict:
    """Judge one batch of effects.

    `queue` is what was handed to the loudspeaker and not dropped since, oldest first; the first
    that has not ended is the one being heard, or about to be.
    """
    rest = [item for item in queue if item.ends > now]
    spoken = [effect for effect in effects if not isinstance(effect, Refuse)]
    silence, batch = False, list[Item]()
    for place, effect in enumerate(spoken):
        if isinstance(effect, Silence):
            silence = True
            batch = [item for item in [*rest, *batch] if _unheard_alarm(item, now)]
            rest = []
        else:
            batch.append(Item(effect, _urgency_of(effect, spoken[place + 1 :])))
    if silence or not batch:
        return Verdict(silence=silence, play=tuple(batch))
    if any(isinstance(item.what, Say) for item in batch):
        return _worded(rest[:1], rest[1:], batch)
    return Verdict(drop_last=len(rest[1:]), play=(*batch, *rest[1:]))  # bare chimes come next


def _worded(sounding: list[Item], waiting: list[Item], batch: list[Item]) -> Verdict:
    rank = max(item.rank for item in batch)
    cut = any(item.rank < rank or item.rank == _ROUTINE for item in sounding)
    kept = [item for item in [*(sounding if cut else []), *waiting] if item.rank > _ROUTINE]
    before = [item for item in kept if item.rank >= rank]
    after = [item for item in kept if item.rank < rank]
    if cut:
        return Verdict(silence=True, play=(*before, *batch, *after))
    if before == waiting:
        return Verdict(play=tuple(batch))  # nothing already queued has to move
    return Verdict(drop_last=len(waiting), play=(*before, *batch, *after))


def _urgency_of(effect: Say | Chime, later: list[Say | Chime | Silence]) -> Urgency:
    """A prompt's own urgency; a chime's is that of the words it announces."""
    if isinstance(effect, Say):
        return effect.urgency
    for other in later:
        if isinstance(other, Say):
            return other.urgency
    return Urgency.CAUTION if effect.kind is ChimeKind.DUE else Urgency.ROUTINE


def _unheard_alarm(item: Item, now: float) -> bool:
    begun = item.ends > 0.0 and item.starts <= now
    return item.urgency is Urgency.ALARM and not begun
