"""Pieces of a run: each is made from the seed and its number, heard, and kept in a file.

A run can be broken off at any time and taken up again. Pieces lie in a folder that bears the seed
and a digest of the ears and of the vocabularies, so pieces of different ears never mix.
"""

from __future__ import annotations

import hashlib
import json
import multiprocessing
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, ProcessPoolExecutor, wait
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from rich.progress import (
    BarColumn,
    MofNCompleteColumn,
    Progress,
    TextColumn,
    TimeElapsedColumn,
    TimeRemainingColumn,
)

import sidecue.hearing
from benchmarks.listening import fragments, open_microphone, rooms
from benchmarks.listening.moments import moments
from benchmarks.listening.streams import crowd
from sidecue.hearing import acceptance

Row = dict[str, Any]
PARTS = ("rooms", "fragments", *open_microphone.KINDS)
_HARDWARE = ("microphone", "input_child", "models", "vosk_child", "vosk_engine", "files", "text")


@dataclass(frozen=True, order=True)
class Piece:
    """One file's worth of work."""

    part: str
    number: int

    @property
    def file(self) -> str:
        """Its file name."""
        return f"{self.part}-{self.number:04}.jsonl"


def digest() -> str:
    """What the ears and the vocabularies are, in ten signs."""
    found = hashlib.sha256()
    folder = Path(sidecue.hearing.__file__).parent
    for path in sorted([*folder.glob("*.py"), *folder.glob("data/*")]):
        if path.is_file() and path.stem not in _HARDWARE:
            found.update(path.name.encode() + path.read_bytes())
    for moment in moments():
        found.update(repr(moment).encode())
    return found.hexdigest()[:10]


def pieces(parts: Sequence[str], rounds: float, hours: dict[str, float]) -> list[Piece]:
    """The pieces of a run. One round goes once through every noise and level."""
    wanted: list[Piece] = []
    for part in parts:
        if part == "rooms":
            count = round(rounds * len(rooms.GRID))
        elif part == "fragments":
            count = max(1, round(4 * rounds))
        else:
            count = round(hours[part] * 60 / open_microphone.MINUTES)
        wanted += [Piece(part, number) for number in range(count)]
    return wanted


def hear(piece: Piece, seed: int, folder: Path) -> Piece:
    """Hear one piece and keep its rows; a file is either whole or not there."""
    if piece.part == "rooms":
        rows = rooms.rows(piece.number, seed)
    elif piece.part == "fragments":
        rows = fragments.rows(piece.number, seed)
    else:
        rows = open_microphone.rows(piece.part, piece.number, seed)
    text = "".join(json.dumps(row) + "\n" for row in rows)
    unfinished = folder / f"{piece.file}.part"
    unfinished.write_text(text, "utf-8")
    unfinished.rename(folder / piece.file)
    return piece


def run(wanted: Sequence[Piece], seed: int, folder: Path, jobs: int, minutes: float | None) -> bool:
    """Hear the pieces that are not there yet; return False when time ran out first."""
    folder.mkdir(parents=True, exist_ok=True)
    left = [piece for piece in wanted if not (folder / piece.file).exists()]
    acceptance.shipped()
    moments()
    crowd()  # all read or made before forking, once for all
    until = time.monotonic() + 60 * minutes if minutes else float("inf")
    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        TimeRemainingColumn(),
    )
    with (
        Progress(*columns) as progress,
        ProcessPoolExecutor(jobs, multiprocessing.get_context("fork")) as pool,
    ):
        bar = progress.add_task("listening", total=len(wanted), completed=len(wanted) - len(left))
        waiting: set[Future[Piece]] = set()
        while left or waiting:
            while left and len(waiting) < jobs and time.monotonic() < until:
                waiting.add(pool.submit(hear, left.pop(0), seed, folder))
            if not waiting:
                return False
            done, waiting = wait(waiting, return_when=FIRST_COMPLETED)
            for finished in done:
                progress.update(bar, advance=1, description=finished.result().part)
    return True


def kept(folder: Path, wanted: Sequence[Piece] | None = None) -> Iterator[Row]:
    """Yield the rows kept in a folder, of the `wanted` pieces or of all."""
    files = sorted(folder.glob("*.jsonl"))
    names = None if wanted is None else {piece.file for piece in wanted}
    for file in files:
        if names is None or file.name in names:
            yield from map(json.loads, file.read_text("utf-8").splitlines())
