"""Foreseen trouble, told in one line each; anything else is a defect and may show its traceback."""

from __future__ import annotations

import errno

from sidecue.clinical.errors import ClinicalError
from sidecue.devices.naming import DeviceError
from sidecue.hearing.own_words import PronunciationError
from sidecue.hearing.port import AudioError
from sidecue.hearing.text import ScriptError
from sidecue.procedure.case import CaseFault
from sidecue.procedure.planning import PlanError
from sidecue.procedure.source import LoadError
from sidecue.record.port import JournalError
from sidecue.speaking.port import VoiceError
from sidecue.training.lesson_audio import LessonError


class Trouble(Exception):  # noqa: N818 - what a person reads, not what a programmer catches
    """Something the person can mend; the message says what and how."""


CLEAR = (
    Trouble,
    LoadError,
    CaseFault,
    PlanError,
    ClinicalError,
    AudioError,
    PronunciationError,
    DeviceError,
    ScriptError,
    VoiceError,
    LessonError,
    JournalError,
    OSError,
)

_FULL = "the disk is full: free some space and try again"
_MENDS = {
    errno.ENOSPC: _FULL,
    errno.EDQUOT: _FULL,
    errno.EFBIG: _FULL,
    errno.ENOENT: "there is no such file or folder: check the name",
    errno.ENOTDIR: "a part of this path is a file, not a folder: choose another place",
    errno.EISDIR: "this is a folder, not a file: name a file",
    errno.EEXIST: "a file of that name is in the way: choose another place",
    errno.EACCES: "not allowed: choose a place you may use, or change its permissions",
    errno.EPERM: "not allowed: choose a place you may use, or change its permissions",
    errno.EROFS: "this disk cannot be written: choose another place",
    errno.ENAMETOOLONG: "the name is too long: shorten it",
}


def why(error: OSError) -> str:
    """Return what is wrong with a file or folder and how to mend it, without its name."""
    if not error.strerror:
        return str(error)
    return _MENDS.get(error.errno or 0, f"{error.strerror}: check the path")


def in_one_line(error: BaseException) -> tuple[str, ...]:
    """Return the line, or for files with several faults a line each, that tell `error`."""
    if isinstance(error, OSError) and error.strerror:
        where = f"{error.filename}: " if error.filename else ""
        return (f"{where}{why(error)}",)
    return tuple(line for line in str(error).splitlines() if line) or (type(error).__name__,)
