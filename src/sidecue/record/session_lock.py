"""One process runs one session. The operating system lets go of the lock when the holder dies.

A lock file beside the store is held, not merely present: what a crash leaves behind locks
nothing. POSIX locks belong to a process and vanish when it closes *any* handle to the file, so a
set of the locks held here refuses the same process before it opens the file twice.
"""

from __future__ import annotations

import contextlib
import os
import sys
import threading
from pathlib import Path

from sidecue.record.port import BusyError

if sys.platform == "win32":  # pragma: no cover - the other half of one choice
    import msvcrt
else:
    import fcntl

_HELD: set[Path] = set()
_HELD_TURN = threading.Lock()

#: The locked byte lies beyond the text, so that another process may still read who holds it.
_LOCKED_BYTE = 1 << 20


class SessionLock:
    """Held from construction to `release`. Raises BusyError, or OSError for the file itself."""

    def __init__(self, path: Path, session: str) -> None:
        self._path = path.absolute()
        with _HELD_TURN:
            if self._path in _HELD:
                raise _busy(session, os.getpid())
            self._handle = _locked(self._path, session)
            _HELD.add(self._path)
        with contextlib.suppress(OSError):  # a courtesy to whoever is refused
            os.ftruncate(self._handle, 0)
            os.write(self._handle, str(os.getpid()).encode())

    def release(self) -> None:
        """Let go and remove the file. Safe to call twice."""
        with _HELD_TURN:
            if self._path not in _HELD:
                return
            _HELD.discard(self._path)
            with contextlib.suppress(OSError):  # a file left behind locks nothing
                self._path.unlink()  # while held, so that it is surely ours
            os.close(self._handle)


def held(path: Path) -> bool:
    """Whether a process holds the lock in this file now: this one, or another. Makes no file."""
    path = path.absolute()
    with _HELD_TURN:
        if path in _HELD:  # to open the file once more and close it would let go
            return True
        try:
            handle = os.open(path, os.O_RDWR)
        except OSError:
            return False
        try:
            _lock(handle)
        except OSError:
            return True
        finally:
            os.close(handle)
    return False


def _locked(path: Path, session: str) -> int:
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _lock(handle)
        except (BlockingIOError, PermissionError):
            holder = os.read(handle, 20).decode(errors="replace")
            os.close(handle)
            raise _busy(session, int(holder) if holder.isdigit() else None) from None
        except OSError:
            os.close(handle)
            raise
        if _same_file(handle, path):
            return handle
        os.close(handle)  # its holder removed it between our open and our lock


def _lock(handle: int) -> None:
    if sys.platform == "win32":  # pragma: no cover
        os.lseek(handle, _LOCKED_BYTE, os.SEEK_SET)
        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        fcntl.lockf(handle, fcntl.LOCK_EX | fcntl.LOCK_NB, 1, _LOCKED_BYTE)


def _same_file(handle: int, path: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), path.stat())
    except FileNotFoundError:
        return False


def _busy(session: str, pid: int | None) -> BusyError:
    who = "another process" if pid is None else f"process {pid}"
    return BusyError(
        f"session {session} is being run by {who}; go on there, or end that process first"
    )
