"""A program that is told to end, or whose window is closed, stops as if by Ctrl-C: what was done
until then is on record."""

from __future__ import annotations

import os
import signal
from types import FrameType

#: Told to end (a machine that shuts down), and the window closed. Windows has no second one.
_ENDINGS = tuple(getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name))


def heed_endings() -> None:
    """From now on the signals that end a program raise KeyboardInterrupt, once.

    One that was set to be ignored (as `nohup` does) stays ignored.
    """
    for ending in _ENDINGS:
        if signal.getsignal(ending) is signal.SIG_DFL:
            signal.signal(ending, _stop)


def _stop(ending: int, _: FrameType | None) -> None:
    for each in _ENDINGS:  # the record is being written: nothing more to be told
        signal.signal(each, signal.SIG_IGN)
    if ending != signal.SIGTERM:  # nobody reads any more, and writing would fail
        nowhere = os.open(os.devnull, os.O_WRONLY)
        for stream in (1, 2):
            os.dup2(nowhere, stream)
    raise KeyboardInterrupt
