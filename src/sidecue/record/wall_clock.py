"""Session seconds as wall-clock time, ISO 8601 with offset, for people."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from sidecue.record.port import JournalError


@dataclass(frozen=True, slots=True)
class WallClock:
    """The wall clock of one session: its time at second 0. The offset stays that of the start,
    so that a visit through a change to summer time does not jump."""

    zero: datetime

    @classmethod
    def of(cls, opened: str) -> WallClock:
        """Read `opened`. Raises JournalError when it is no ISO 8601 time with an offset."""
        try:
            zero = datetime.fromisoformat(opened)
        except ValueError:
            zero = None
        if zero is None or zero.tzinfo is None:
            raise JournalError(
                f"{opened!r} is no ISO 8601 time with offset; give one such as "
                "2026-03-02T09:30:00+01:00"
            )
        return cls(zero)

    def iso(self, at: float) -> str:
        """Return `at` to the second, rounded down as clocks do."""
        return self._at(at).isoformat(timespec="seconds")

    def time(self, at: float) -> str:
        """Return the time of day of `at`."""
        return self._at(at).strftime("%H:%M:%S")

    def _at(self, at: float) -> datetime:
        return self.zero + timedelta(seconds=at)
