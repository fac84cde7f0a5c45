"""The text engine: typed or scripted phrases under the same rules as spoken ones.

A script is a text file, one line each: `MM:SS.s phrase` (said at that time), a bare phrase (said a
moment after the last one), `(wait 5)` (nothing for five seconds), `# remark`.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path as FilePath

from sidecue.hearing.ears import Heard, VocabularyAt
from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.judgement import judged, nothing
from sidecue.hearing.port import Hearing, Vocabulary

SECONDS_A_WORD = 0.35
BETWEEN = 1.5  # seconds from one bare phrase's end to the next one's start
TICK = 0.5  # seconds between looks at the clock while nobody speaks

_TIMED = re.compile(r"^(\d{1,3}):([0-5]\d(?:\.\d+)?)\s+(\S.*)$")
_LIKE_TIME = re.compile(r"^\d+[:.]")
_WAIT = re.compile(r"^\(wait\s+(\d+(?:\.\d+)?)\)$")


class ScriptError(ValueError):
    """A line of a script cannot be read; the message names file and line."""


@dataclass(frozen=True, slots=True)
class Line:
    """One phrase of a script, and when it begins and ends in seconds."""

    started: float
    ended: float
    phrase: str


@dataclass(frozen=True, slots=True)
class Script:
    """What is said, in order, and when the script is over."""

    lines: tuple[Line, ...]
    lasts: float


def plain(text: str) -> str:
    """Lower case, one space between words, no punctuation but the apostrophe."""
    kept = re.sub(r"[^a-z' ]+", " ", text.lower().replace("’", "'"))
    return " ".join(kept.split())


def hear_text(phrase: str, started: float, vocabulary: Vocabulary) -> Hearing:
    """Judge a typed phrase exactly as if it had been decoded without doubt.

    It counts only as a whole: the address and one active phrase, or the phrase alone where bare
    cues count.
    """
    text = plain(phrase)
    times = (started, started + SECONDS_A_WORD * max(1, len(text.split())))
    path = grammar_of(vocabulary).find(text)
    if path is None:
        return nothing(times, text, "not a cue of this step")
    return judged(path, 1.0, lambda _score, _tier: True, vocabulary, times)


def parse_script(text: str, name: str = "script") -> Script:
    """Read a script. Raises ScriptError `name:line: what is wrong: how to mend it`."""
    lines: list[Line] = []
    now = 0.0
    for number, raw in enumerate(text.splitlines(), start=1):
        entry = raw.split("#", 1)[0].strip()
        if not entry:
            continue
        if waited := _WAIT.match(entry):
            now += float(waited[1])
            continue
        started, phrase = now + BETWEEN, entry
        if timed := _TIMED.match(entry):
            started, phrase = int(timed[1]) * 60 + float(timed[2]), timed[3]
            if started < now:
                raise ScriptError(
                    f"{name}:{number}: {timed[1]}:{timed[2]} is before the last phrase has ended"
                    f" at {now:.1f} s: give a later time"
                )
        elif _LIKE_TIME.match(entry):
            raise ScriptError(
                f"{name}:{number}: {entry!r}: write times as MM:SS.s (seconds below 60), then the"
                " phrase"
            )
        elif entry.startswith("("):
            raise ScriptError(
                f"{name}:{number}: {entry!r} is no phrase: write a wait as (wait 5), in seconds"
            )
        said = plain(phrase)
        if not said:
            raise ScriptError(f"{name}:{number}: {entry!r} has no words: write a phrase")
        now = started + SECONDS_A_WORD * len(said.split())
        lines.append(Line(started, now, said))
    return Script(tuple(lines), now + BETWEEN)


def read_script(path: FilePath) -> Script:
    """Read a script file. Raises ScriptError, also when it cannot be opened."""
    try:
        return parse_script(path.read_text("utf-8"), str(path))
    except (OSError, UnicodeDecodeError) as fault:
        raise ScriptError(f"{path}: cannot be read as text: {fault}") from fault


class ScriptEars:
    """Listens to a script: the same yield as `Ears`, on the script's own clock."""

    def __init__(self, vocabulary_at: VocabularyAt) -> None:
        self._vocabulary_at = vocabulary_at

    def listen(self, script: Script) -> Iterator[Heard]:
        """Yield at least every `TICK` seconds of the script, and at the end of each phrase."""
        now = 0.0
        for line in script.lines:
            yield from self._quiet(now, line.started)
            vocabulary = self._vocabulary_at(line.started)
            heard = (
                () if vocabulary is None else (hear_text(line.phrase, line.started, vocabulary),)
            )
            yield Heard(line.ended, heard, speaking=False, arrived=True)
            now = line.ended
        yield from self._quiet(now, script.lasts)
        yield Heard(max(now, script.lasts), (), speaking=False, arrived=True)

    @staticmethod
    def _quiet(now: float, until: float) -> Iterator[Heard]:
        ticks = int((until - now) / TICK)
        for tick in range(1, ticks + 1):
            yield Heard(now + tick * TICK, (), speaking=False, arrived=True)


class TypedEars:
    """Phrases typed by hand; `clock` gives the session's time in seconds."""

    def __init__(self, vocabulary_at: VocabularyAt, clock: Callable[[], float]) -> None:
        self._vocabulary_at = vocabulary_at
        self._clock = clock

    def take(self, phrase: str) -> Hearing | None:
        """Judge a phrase typed now; None while nothing is to be heard."""
        now = self._clock()
        vocabulary = self._vocabulary_at(now)
        if vocabulary is None:
            return None
        heard = hear_text(phrase, now, vocabulary)
        return Hearing(now, now, heard.cue, heard.phrase, heard.score, heard.tier, heard.why)
