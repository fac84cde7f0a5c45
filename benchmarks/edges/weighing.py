"""Processor time and memory of a process and all it started, from /proc."""

from __future__ import annotations

import os
from pathlib import Path

_TICKS = os.sysconf("SC_CLK_TCK")


def family(pid: int) -> list[int]:
    """Return `pid` and every descendant that runs now."""
    parents: dict[int, int] = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit() and (fields := _stat(int(entry.name))):
            parents[int(entry.name)] = int(fields[1])
    found = [pid]
    for each in found:
        found += [child for child, parent in parents.items() if parent == each]
    return found


def processor(pid: int) -> float:
    """Return the seconds of processor time `pid` took so far."""
    fields = _stat(pid)
    return (int(fields[11]) + int(fields[12])) / _TICKS if fields else 0.0


def memory(pid: int) -> float:
    """Return the proportional share of memory of `pid`, MB: pages that n share count one nth."""
    try:
        lines = Path(f"/proc/{pid}/smaps_rollup").read_text("ascii").splitlines()
    except OSError:
        return 0.0
    return next(int(line.split()[1]) for line in lines if line.startswith("Pss:")) * 1024 / 1e6


def called(pid: int) -> str:
    """Return what `pid` is, in a word: the last part of the module it runs, or "main"."""
    try:
        words = Path(f"/proc/{pid}/cmdline").read_bytes().decode(errors="replace").split("\0")
    except OSError:
        return "gone"
    return words[words.index("-m") + 1].rpartition(".")[2] if "-m" in words else "main"


def _stat(pid: int) -> list[str]:
    """The fields after the name: state, parent, ..."""
    try:
        return Path(f"/proc/{pid}/stat").read_text("ascii", "replace").rpartition(")")[2].split()
    except OSError:
        return []
