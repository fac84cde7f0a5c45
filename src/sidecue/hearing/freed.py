"""Freed memory goes back to the system; the C library of Linux (glibc) would keep it otherwise."""

from __future__ import annotations

import ctypes
from collections.abc import Callable
from functools import cache


def give_back() -> None:
    """Give back what is free now. It takes a millisecond, and nothing where there is no glibc."""
    _trim()(0)


@cache
def _trim() -> Callable[[int], object]:
    try:
        trim: Callable[[int], object] = ctypes.CDLL(None).malloc_trim
    except (OSError, AttributeError, TypeError):  # another C library, or none to ask
        return lambda _: None
    return trim
