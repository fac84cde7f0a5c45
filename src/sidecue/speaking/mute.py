"""A loudspeaker that makes no sound and keeps the timing of one that does."""

from __future__ import annotations

from sidecue.speaking.port import Sound
from sidecue.speaking.timeline import Timeline


class MuteLoudspeaker:
    """For a visit without sound (`--mute`) and for scripted ones. Satisfies `Loudspeaker`."""

    def __init__(self) -> None:
        self._timeline = Timeline()

    def play(self, sound: Sound, now: float) -> float:
        """Return when `sound` would have ended."""
        self._timeline.take_ended(now)
        return self._timeline.add(sound, now).ends

    def silence(self, now: float) -> None:
        """Forget everything."""
        self._timeline.take_all()

    def drop_last(self, count: int, now: float) -> None:
        """Forget the last `count`."""
        self._timeline.take_ended(now)
        self._timeline.drop_last(count, now)

    def busy_until(self, now: float) -> float:
        """When the last sound would end."""
        return self._timeline.busy_until(now)

    def close(self) -> None:
        """Nothing to release."""
