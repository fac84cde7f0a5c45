"""Foreseen trouble, told in one line each; anything else is a defect and may show its traceback."""

from __future__ import annotations

import errno

from sidecue.clinical.errors import ClinicalError
from sidecue.hearing.port import AudioError
from sidecue.procedure.case import CaseFault
from sidecue.procedure.source import LoadError
from sidecue.record.port import JournalError
from sidecue.speaking.port import VoiceError


class Trouble(Exception):  # noqa: N818 - what a person reads, not what a programmer catches
    """Something the person can mend; the message says what and how."""


CLEAR = (
    Trouble,
    LoadError,
    CaseFault,
    ClinicalError,
    AudioError,
    VoiceError,
    JournalError,
    OSError,
)


def in_one_line(error: BaseException) -> tuple[str, ...]:
    """Return the line, or for files with several faults a line each, that tell `error`."""
    if isinstance(error, OSError):
        where = f"{error.filename}: " if error.filename else ""
        if error.errno == errno.ENOSPC:
            return (f"{where}the disk is full: free some space and try again",)
        return (f"{where}{error.strerror or error}: check the path and its permissions",)
    return tuple(str(error).splitlines()) or (type(error).__name__,)
