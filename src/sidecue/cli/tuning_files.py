"""A sitting of tuning made from a folder of recordings, one phrase a file."""

from __future__ import annotations

import re
from collections.abc import Iterable
from contextlib import closing
from pathlib import Path

from sidecue.cli.listening import remark
from sidecue.cli.trouble import Trouble
from sidecue.conductor.sitting import (
    Listener,
    NothingHeardError,
    Sitting,
    hear_phrase,
    hear_talk,
)
from sidecue.hearing.files import FileSource
from sidecue.hearing.port import Recogniser
from sidecue.hearing.tuning_lines import Line, Script
from sidecue.procedure.words import normalise_phrase

SOUNDS = frozenset({".wav", ".flac"})
TALK = "talk"
SHOWN = 3


def sit_with_folder(folder: Path, script: Script, recogniser: Recogniser, address: str) -> Sitting:
    """Judge each file of `folder`. Raises Trouble for a folder without a phrase, AudioError for a
    file that cannot be read, NothingHeardError where no word was heard."""
    found = Sitting([], [])
    lines = _by_name(script.every(), address)
    strange: list[str] = []
    for path in sorted(each for each in folder.iterdir() if each.suffix.lower() in SOUNDS):
        words = _words(path)
        line = lines.get(words)
        if line is None and not words.startswith(TALK):
            strange.append(path.name)
            continue
        with closing(FileSource(path)) as source:
            found.lasted += source.lasts
            listener = Listener(recogniser, source, address)
            if line is not None:
                found.trials.append(hear_phrase(listener, line))
            else:
                found.talk += hear_talk(listener, script.moments)
                found.talked += source.lasts
    if strange:
        more = f" and {len(strange) - SHOWN} more" if len(strange) > SHOWN else ""
        remark(f"no phrase of this case, left out: {', '.join(strange[:SHOWN])}{more}")
    if not found.trials:
        raise Trouble(
            f"{folder}: no .wav or .flac file is named by a phrase of this case; "
            "`sidecue tune --phrases` lists them (okay-tray-bite-marked.wav)"
        )
    if not any(trial.read_as for trial in found.trials):
        raise NothingHeardError(f"{folder}: not a word was heard")
    return found


def _by_name(lines: Iterable[Line], address: str) -> dict[str, Line]:
    """Each line by its phrase, with the address and without; the first of equal ones."""
    named: dict[str, Line] = {}
    for line in lines:
        named.setdefault(normalise_phrase(f"{address} {line.phrase}"), line)
        named.setdefault(normalise_phrase(line.phrase), line)
    return named


def _words(path: Path) -> str:
    """The words a file is named by: up to the first dot, whatever stands between them."""
    return normalise_phrase(re.sub(r"[-_]+", " ", path.name.split(".")[0]))
