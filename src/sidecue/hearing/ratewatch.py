"""Whether a device delivers as many samples a second as it says it does."""

from __future__ import annotations

_STANDARD = (8_000, 11_025, 16_000, 22_050, 24_000, 32_000, 44_100, 48_000, 88_200, 96_000, 192_000)
_LEAST = 4.0  # s of unbroken sound before a verdict
_SETTLE = 1.0  # s left out at the start: a waking device delivers in bursts
_OFF = 0.03  # share; a sound crystal is within 0.0002, and 44.1 kHz is 0.08 from 48
_HOLE = 0.5  # s between blocks: counted afresh after it


class RateWatch:
    """Counts frames against the clock. `rate` is what the device says, in Hz."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._first: float | None = None
        self._from: float | None = None
        self._last = 0.0
        self._frames = 0

    def take(self, ended: float, frames: int) -> int | None:
        """Take a block that `ended` then (seconds); return the real rate once it is plainly
        another than told, to the nearest usual one; else None."""
        if self._first is None or ended - self._last > _HOLE:
            self._first, self._from, self._frames = ended, None, 0
        self._last = ended
        if self._from is None:
            if ended - self._first >= _SETTLE:
                self._from = ended
            return None
        self._frames += frames
        lasts = ended - self._from
        if lasts < _LEAST:
            return None
        real = self._frames / lasts
        usual = min(_STANDARD, key=lambda each: abs(each / real - 1))
        if abs(real / self._rate - 1) <= _OFF or usual == self._rate:
            self._first = None  # right; count afresh, so that a later change shows as soon
            return None
        return usual
