"""Time as a machine of our own would have taken it.

What has to happen within two seconds cannot, by the wall clock, while other programs want the same
cores. Here a second counts for less while more programs want to run than there are cores: on an
idle machine it is a second.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path

_TICK = 0.02  # s
_LOAD = Path("/proc/loadavg")
_CORES = os.cpu_count() or 1


def share() -> float:
    """The share of a core each program that wants to run gets now, 1 at the most."""
    try:
        running = int(_LOAD.read_text("ascii").split()[3].partition("/")[0])
    except (OSError, ValueError, IndexError):
        return 1.0  # a system that does not tell
    return min(1.0, _CORES / max(1, running))


class FairTimer:
    """Counts fair seconds from its making on, each time it is read: read it often."""

    def __init__(self) -> None:
        self._seen = time.monotonic()
        self.seconds = 0.0

    def read(self) -> float:
        """Return the fair seconds gone by."""
        now = time.monotonic()
        self.seconds += (now - self._seen) * share()
        self._seen = now
        return self.seconds


def wait_for(condition: Callable[[], bool], seconds: float) -> float:
    """Wait until `condition()` holds; return the fair seconds it took. Raises AssertionError when
    it does not hold within so many fair `seconds`."""
    timer = FairTimer()
    while not condition():
        if timer.read() > seconds:
            raise AssertionError(f"not within {seconds} s")
        time.sleep(_TICK)
    return timer.read()
