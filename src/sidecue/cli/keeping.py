"""Files of other people are never replaced in passing: only what sidecue wrote, or what is named
with --force."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Annotated

import typer

from sidecue.cli.trouble import Trouble
from sidecue.record.whole_files import write_whole

Force = Annotated[bool, typer.Option("--force", help="Replace a file that sidecue did not write.")]

#: What a page, a PDF and a picture of ours hold, and nobody else's.
_OURS = (b'<meta name="generator" content="sidecue">', b"/Creator (sidecue)")
_LARGEST = 50_000_000  # bytes; no page of ours is as large


def refuse_to_replace(paths: Iterable[Path], *, force: bool = False) -> None:
    """Raise Trouble, in one line, when one of `paths` is a file that sidecue did not write, or two
    are the same file."""
    known: set[Path] = set()
    for path in paths:
        place = path.resolve()
        if place in known:
            raise Trouble(f"{path}: two files of the same name: give each its own")
        known.add(place)
    foreign = [] if force else [path for path in paths if _foreign(path)]
    if foreign:
        more = f" (and {len(foreign) - 1} more)" if len(foreign) > 1 else ""
        raise Trouble(
            f"{foreign[0]}{more}: this file is there already, and sidecue cannot tell that it wrote"
            " it: give another name, or replace it with --force"
        )


def write_files(files: Mapping[Path, bytes], *, force: bool = False) -> None:
    """Write them whole, or none. Raises Trouble as `refuse_to_replace` does (but what already
    holds the same is no matter), or OSError."""
    changed = {path: content for path, content in files.items() if not _holds(path, content)}
    refuse_to_replace(changed, force=force)
    write_whole(changed)


def _foreign(path: Path) -> bool:
    if not path.is_file():  # a terminal or a pipe may be written to; a folder has its own trouble
        return False
    size = path.stat().st_size
    if size == 0:
        return False
    return size > _LARGEST or not any(mark in path.read_bytes() for mark in _OURS)


def _holds(path: Path, content: bytes) -> bool:
    return path.is_file() and path.stat().st_size == len(content) and path.read_bytes() == content
