"""The whole lesson in one audio file, for listening on the way home."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

import numpy as np
import numpy.typing as npt
import soundfile

from sidecue.training.lesson import LessonLine
from sidecue.training.shadowing import sections

#: Seconds between two lines of one step.
BREATH = 0.4

#: File names end in one of these; the container follows.
FORMATS = {".wav": "WAV", ".flac": "FLAC"}


class LessonSound(Protocol):
    """What a voice makes of a line: mono int16 samples at `rate` Hz."""

    @property
    def samples(self) -> npt.NDArray[np.int16]:
        """The sound."""
        ...

    @property
    def rate(self) -> int:
        """Samples per second."""
        ...


class LessonError(Exception):
    """The lesson could not be written; the message is one line with a mend."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """Where a step begins in the file, in seconds; `step` is empty for opening and closing."""

    at: float
    step: str


def write_lesson(
    path: Path, lines: Sequence[LessonLine], render: Callable[[str], LessonSound], pace: float
) -> tuple[Chapter, ...]:
    """Write the lesson to `path` (.wav or .flac), `pace` seconds between steps; return where each
    step begins. The file appears whole or not at all. Raises LessonError, and what `render` does.
    """
    if path.suffix.lower() not in FORMATS:
        raise LessonError(f"{path}: a lesson is written as .wav or .flac; change the file's name")
    if not 0.0 <= pace < float("inf"):
        raise LessonError(f"a pace of {pace} seconds is not possible; use 0 or more")
    if not lines:
        raise LessonError(f"{path}: the lesson is empty; choose a plan with steps")
    partial = path.with_name(f".{path.name}.part")
    try:
        try:
            chapters = _write(partial, FORMATS[path.suffix.lower()], lines, render, pace)
            partial.replace(path)
        finally:
            partial.unlink(missing_ok=True)
    except (OSError, soundfile.SoundFileError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise LessonError(
            f"{path}: {reason}; choose a folder you may write to, with room on its disk"
        ) from error
    return chapters


def _write(
    path: Path,
    container: str,
    lines: Sequence[LessonLine],
    render: Callable[[str], LessonSound],
    pace: float,
) -> tuple[Chapter, ...]:
    first = render(lines[0].text)
    chapters: list[Chapter] = []
    written = 0
    with soundfile.SoundFile(path, "w", first.rate, 1, "PCM_16", format=container) as file:

        def put(samples: npt.NDArray[np.int16]) -> int:
            file.write(samples)
            return len(samples)

        def silence(seconds: float) -> npt.NDArray[np.int16]:
            return np.zeros(round(seconds * first.rate), dtype=np.int16)

        for section in sections(lines):
            if chapters:
                written += put(silence(pace))
            chapters.append(Chapter(written / first.rate, section[0].step))
            for line in section:
                sound = first if line is lines[0] else render(line.text)
                if sound.rate != first.rate:
                    raise LessonError(
                        f"the voice changed from {first.rate} to {sound.rate} Hz; use one voice"
                    )
                written += put(sound.samples) + put(silence(BREATH))
    if soundfile.info(path).frames != written:  # libsndfile may lose a full disk's error
        raise LessonError(f"{path.parent}: the disk is full; free some space and write it again")
    return tuple(chapters)
