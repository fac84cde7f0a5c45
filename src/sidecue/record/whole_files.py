"""Files that are written whole or not at all: a full disk or a crash leaves no half of one."""

from __future__ import annotations

import contextlib
import os
import shutil
from collections.abc import Mapping
from pathlib import Path


def write_whole(files: Mapping[Path, bytes]) -> None:
    """Write every file, or none where the disk does not take them all. Raises OSError.

    What stood there before is replaced at one stroke, and kept until then. A link is followed; what
    is no ordinary file (a terminal, a pipe) is written to as it comes.
    """
    waiting: dict[Path, Path] = {}
    try:
        for path, content in files.items():
            target = path.resolve()
            if target.exists() and not target.is_file():
                target.write_bytes(content)
                continue
            beside = target.with_name(f".{target.name[:200]}.{os.getpid()}.part")
            waiting[beside] = target
            _write(beside, content)
            if target.exists():
                shutil.copymode(target, beside)
        for beside, target in waiting.items():
            beside.replace(target)
    except OSError as error:
        if error.filename in {str(beside) for beside in waiting}:  # told by the name it was to have
            error.filename, error.filename2 = str(waiting[Path(error.filename)]), None
        raise
    finally:
        for beside in waiting:
            with contextlib.suppress(OSError):
                beside.unlink()


def _write(path: Path, content: bytes) -> None:
    with path.open("wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())  # a disk may only say here that it is full
