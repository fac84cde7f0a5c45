"""What a recogniser needed for a moment is the system's again. glibc's manual, malloc_trim(3)."""

from __future__ import annotations

import os
import platform
from pathlib import Path

import numpy as np
import pytest

from sidecue.hearing import freed

BLOCK = 60_000  # bytes; what is larger than 128 kB goes back by itself
BLOCKS = 1_000


def resident() -> int:
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE")


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="another C library")
def test_freed_memory_goes_back_though_something_above_it_is_still_in_use() -> None:
    blocks = [np.ones(BLOCK, np.int8) for _ in range(BLOCKS)]
    last = blocks[-1]
    full = resident()
    del blocks
    freed.give_back()
    assert full - resident() > 0.8 * BLOCK * BLOCKS
    assert last.all()


def test_without_that_library_nothing_is_done(monkeypatch: pytest.MonkeyPatch) -> None:
    def none(_name: object) -> object:
        raise OSError("no such library")

    monkeypatch.setattr(freed.ctypes, "CDLL", none)
    freed._trim.cache_clear()
    freed.give_back()
    freed._trim.cache_clear()
