"""SQLite's errors in words: what failed, and what the person at the chair can do about it."""

from __future__ import annotations

import errno
import shutil
import sqlite3
from pathlib import Path

from sidecue.record.port import JournalError

#: Less free space than this, in bytes, and an input/output error is most likely a full disk.
_NEARLY_NOTHING = 256 * 1024

_FULL = "the disk is full; free some space there and go on, what was confirmed is safe"
_DAMAGED = "it is damaged; move it away and restore it from a backup"
_UNWRITABLE = "it cannot be written; choose a folder you may write to"

_BY_CODE = {
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_READONLY: _UNWRITABLE,
    sqlite3.SQLITE_CANTOPEN: _UNWRITABLE,
    sqlite3.SQLITE_PERM: _UNWRITABLE,
    sqlite3.SQLITE_AUTH: _UNWRITABLE,
    sqlite3.SQLITE_BUSY: "another program holds it; close that program and try again",
    sqlite3.SQLITE_LOCKED: "another program holds it; close that program and try again",
    sqlite3.SQLITE_PROTOCOL: "its locks do not work there; keep it on a local disk",
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_NOTADB: "it is not a journal; move that file away or choose another place",
    sqlite3.SQLITE_IOERR: "the disk failed; check the disk and keep the journal on a local one",
}


def in_words(path: Path, error: sqlite3.Error) -> JournalError:
    """Return `error` as one line with a mend."""
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF  # the low byte is the primary code
    if code == sqlite3.SQLITE_IOERR and _free(path) < _NEARLY_NOTHING:
        code = sqlite3.SQLITE_FULL
    if "Could not decode" in str(error):  # the sqlite3 module's own, without a code
        return damaged(path)
    why = _BY_CODE.get(code, f"{error}; run the doctor command")
    return JournalError(f"journal {path}: {why}")


def damaged(path: Path) -> JournalError:
    """Return the line for a store that opens and holds what was never written."""
    return JournalError(f"journal {path}: {_DAMAGED}")


def os_in_words(path: Path, error: OSError) -> JournalError:
    """Return an error of making the folder or a lock file as one line with a mend."""
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return JournalError(f"journal {path}: {_FULL}")
    reason = (error.strerror or str(error)).lower()
    return JournalError(f"journal {path}: {reason}; choose a folder you may write to")


def _free(path: Path) -> int:
    try:
        return shutil.disk_usage(path.parent).free
    except OSError:
        return _NEARLY_NOTHING
