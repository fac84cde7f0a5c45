"""When each queued sound begins and ends: the arithmetic the loudspeakers share. Pure."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sidecue.speaking.port import Sound


@dataclass(frozen=True, slots=True)
class Slot:
    """A sound and its place in time, in seconds on the session's clock."""

    sound: Sound
    starts: float
    ends: float


class Timeline:
    """Sounds laid end to end, none before it was asked for."""

    def __init__(self) -> None:
        self._slots: list[Slot] = []

    def add(self, sound: Sound, now: float) -> Slot:
        """Put `sound` behind what is queued; return its slot."""
        starts = self.busy_until(now)
        slot = Slot(sound, starts, starts + sound.lasts)
        self._slots.append(slot)
        return slot

    def cut(self, now: float) -> None:
        """End what sounds at `now` and drop what comes after."""
        self._slots = [
            replace(slot, ends=min(slot.ends, now)) for slot in self._slots if slot.starts < now
        ]

    def drop_last(self, count: int, now: float) -> None:
        """Drop the last `count` slots; one that has begun ends at `now`."""
        keep = max(0, len(self._slots) - count)
        begun = [replace(slot, ends=now) for slot in self._slots[keep:] if slot.starts < now]
        self._slots = self._slots[:keep] + begun

    def busy_until(self, now: float) -> float:
        """When the last sound ends; `now` when all have ended."""
        return max(now, self._slots[-1].ends) if self._slots else now

    def take_ended(self, now: float) -> list[Slot]:
        """Remove and return the slots that ended by `now`, oldest first."""
        ended = [slot for slot in self._slots if slot.ends <= now]
        self._slots = [slot for slot in self._slots if slot.ends > now]
        return ended

    def take_all(self) -> list[Slot]:
        """Remove and return every slot."""
        slots, self._slots = self._slots, []
        return slots
