"""What a session listens to, opened and checked before anything is stored."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sidecue.cli.trouble import Trouble
from sidecue.conductor.assembly import ENGINES, recogniser_of, tuning_told
from sidecue.conductor.running import WallClock
from sidecue.hearing.files import FileSource
from sidecue.hearing.microphone import Microphone, choose, input_devices
from sidecue.hearing.own_tuning import own_tunings
from sidecue.hearing.port import AudioError, AudioSource, Block, Recogniser, Vocabulary
from sidecue.hearing.text import Script, parse_script
from sidecue.procedure.plan import Plan
from sidecue.procedure.source import read_text
from sidecue.procedure.vocabulary import UnknownWord, all_cues, unknown_words

CHOICES = ("auto", *ENGINES, "text")
TICK = 0.03  # seconds between looks at keys and timers when there is no microphone


class NoMicrophone:
    """A source of nothing, at the pace of the clock: keys, typed phrases and timers still work."""

    def __init__(self, clock: WallClock) -> None:
        self._clock = clock
        self._closed = False

    def blocks(self) -> Iterator[Block]:
        """Yield an empty block every tick until closed, and one more for what was typed last."""
        while not self._closed:
            time.sleep(TICK)
            yield self._nothing()
        yield self._nothing()

    def close(self) -> None:
        """End it."""
        self._closed = True

    def _nothing(self) -> Block:
        return Block(self._clock.now(), np.zeros(0, dtype=np.int16))


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for: an engine, its model, and where the sound or the phrases come from."""

    engine: str
    model: str | None = None
    audio: Path | None = None
    script: Path | None = None
    microphone: str | None = None

    @property
    def recorded(self) -> bool:
        """True when what is heard lies ready in a file."""
        return self.audio is not None or self.script is not None

    def check(self) -> None:
        """Raise Trouble for choices that do not go together."""
        if self.engine not in CHOICES:
            raise Trouble(f"no engine called {self.engine!r}: choose {', '.join(CHOICES)}")
        if self.script is not None and self.engine != "text":
            raise Trouble("--script holds phrases, not sound: add --engine text")
        if self.audio is not None and self.engine == "text":
            raise Trouble("--audio needs ears: leave --engine text away")


@dataclass(frozen=True, slots=True)
class Listening:
    """A source with the engine that judges it; without an engine, phrases are typed. A script
    takes the place of both."""

    source: AudioSource
    recogniser: Recogniser | None = None
    script: Script | None = None


def remark(told: str) -> None:
    """Tell something about the sound; above the live screen where there is one."""
    print(f"sidecue: {told}", file=sys.stderr)


@contextmanager
def listening(plan: Plan | None, wanted: Wanted, clock: WallClock) -> Iterator[Listening]:
    """Open what is wanted; release it at the end. Raises Trouble, AudioError or ScriptError; also
    for words of `plan` that could never be heard."""
    wanted.check()
    if wanted.engine == "text":
        script = _script(wanted.script) if wanted.script is not None else None
        yield Listening(NoMicrophone(clock), script=script)
        return
    recording = FileSource(wanted.audio) if wanted.audio is not None else None
    tuned = _tuned_microphone(wanted)
    recogniser = open_engine(wanted, tuned)
    if tuned is not None and (told := tuning_told(wanted.engine, tuned)) is not None:
        remark(f"ears: {told}")
    try:
        if plan is not None:
            refuse_unknown_words(plan, recogniser)
        source = recording or _microphone(wanted, clock)
        try:
            yield Listening(source, recogniser)
        finally:
            source.close()
    finally:
        recogniser.close()


def _tuned_microphone(wanted: Wanted) -> str | None:
    """Return the whole name of the microphone where there may be a tuning for it. A recording has
    the name that is given with it; devices are only looked through where anything was tuned."""
    if not own_tunings():
        return None
    if wanted.audio is not None:
        return wanted.microphone
    with _or_typed():
        return choose(input_devices(), wanted.microphone).name


def _microphone(wanted: Wanted, clock: WallClock) -> Microphone:
    with _or_typed():
        return Microphone(wanted.microphone, clock.now, remark)


@contextmanager
def _or_typed() -> Iterator[None]:
    """Tell who has no microphone that there is another way."""
    try:
        yield
    except AudioError as error:
        raise Trouble(f"{error}; or type the phrases, with --engine text") from error


def open_engine(wanted: Wanted, tuned: str | None = None) -> Recogniser:
    """Return the engine, tuned to the microphone `tuned`. Raises Trouble where it is missing."""
    try:
        return recogniser_of(wanted.engine, wanted.model, tuned)
    except ValueError as fault:
        raise Trouble(f"{fault}, or choose --engine pocketsphinx") from fault


def refuse_unknown_words(plan: Plan, recogniser: Recogniser) -> None:
    """Raise Trouble, a line each, for words of cues that the engine could never hear."""
    lacking = words_lacking(plan, recogniser)
    if lacking:
        raise Trouble("\n".join(lack_line(each, recogniser.name) for each in lacking))


def words_lacking(plan: Plan, recogniser: Recogniser) -> tuple[UnknownWord, ...]:
    """Return the words of cues that the engine lacks; it does without decoys that have such."""
    cues = tuple(cue for _, cue in all_cues(plan))
    asked = Vocabulary(cues, plan.address, pronunciations=plan.pronunciations)
    lacking = set(recogniser.unknown_words(asked))
    # What the plan pronounces is not given to an engine that cannot be taught.
    found = unknown_words(replace(plan, pronunciations=()), lambda word: word not in lacking)
    return tuple(each for each in found if each.where != "decoys")


def lack_line(lack: UnknownWord, engine: str) -> str:
    """Return what is told of one word."""
    mend = "say it with other words" + (
        f", or add how it sounds: sidecue say-word {lack.word} --like WORDS"
        if engine != "vosk"
        else ""
    )
    return f'{lack.where}: cue "{lack.phrase}": {engine} does not know "{lack.word}": {mend}'


def _script(path: Path) -> Script:
    if str(path) == "-":
        return parse_script(sys.stdin.read(), "standard input")
    return parse_script(read_text(path, str(path)), str(path))
