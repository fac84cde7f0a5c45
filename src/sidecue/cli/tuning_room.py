"""Holding a sitting of tuning: with a person at a microphone, or from recordings."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass

from rich.console import Console

from sidecue.cli.listening import Wanted, remark
from sidecue.cli.trouble import Trouble
from sidecue.cli.tuning_files import sit_with_folder
from sidecue.cli.tuning_told import verdict
from sidecue.conductor.assembly import Output, mouth_of, shipped_thresholds
from sidecue.conductor.running import WallClock
from sidecue.conductor.sitting import Listener, NothingHeardError, Sitting, sit
from sidecue.hearing.files import FileSource
from sidecue.hearing.microphone import Microphone
from sidecue.hearing.port import AudioSource, Recogniser
from sidecue.hearing.tuning import Thresholds, Trial
from sidecue.hearing.tuning_lines import Line, Script
from sidecue.procedure.plan import Plan
from sidecue.session.effects import Say

BEGIN = "Say each phrase after me."
TALK = "Now talk for a minute, about anything."
THANKS = "Thank you, that is all."


@dataclass(frozen=True, slots=True)
class Room:
    """What a sitting is made of."""

    plan: Plan
    script: Script
    recogniser: Recogniser
    output: Output


def sitting_in(room: Room, wanted: Wanted) -> tuple[Sitting, str | None]:
    """Hold the sitting; return what came of it and the microphone it is for.

    Raises Trouble where not a word was heard, AudioError for sound that cannot be had.
    """
    shipped = shipped_thresholds(wanted.engine)
    console = Console(highlight=False, soft_wrap=True)
    try:
        if wanted.audio is not None and wanted.audio.is_dir():
            found = sit_with_folder(wanted.audio, room.script, room.recogniser, room.plan.address)
            for trial in found.trials:
                console.print(f"{trial.phrase}: {verdict(trial, shipped)}", markup=False)
            return found, wanted.microphone
        if wanted.audio is not None:
            source = FileSource(wanted.audio)
            return _held(room, source, shipped, console, _said_by_nobody), wanted.microphone
        clock = WallClock(time.time())
        with (
            closing(Microphone(wanted.microphone, clock.now, remark)) as live,
            _reading_out(room, clock) as say,
        ):
            return _held(room, live, shipped, console, say), live.device.name
    except NothingHeardError as error:
        raise Trouble(
            f"{error}: look at the microphone with `sidecue doctor`, and come nearer to it"
        ) from error


def _held(
    room: Room,
    source: AudioSource,
    shipped: Thresholds,
    console: Console,
    say: Callable[[str, float], float],
) -> Sitting:
    lines = room.script.chosen()
    live = say is not _said_by_nobody
    counted = iter(range(1, 1000))

    def aloud(text: str, now: float) -> float:
        number = next(counted)
        of = f"/{len(lines)}" if number <= len(lines) else ", once more"
        console.print(f'{number:3}{of}  "{text}"', markup=False, end="  ")
        return say(text, now)

    def heard(line: Line, trial: Trial) -> None:
        console.print(verdict(trial, shipped), markup=False)

    def announce(now: float) -> float:
        console.print("\nNow a minute of ordinary talk, as over a patient, without cues.")
        return say(TALK, now)

    if live:
        console.print(
            f"Suction on; sit where you work. {len(lines)} phrases, each to be said after it was "
            "read out,\nthen a minute of talk: under three minutes. Nothing of the sound is kept.\n"
        )
    listener = Listener(room.recogniser, source, room.plan.address)
    if live:
        say(BEGIN, listener.now)
    found = sit(
        listener, lines, room.script.moments, say=aloud, heard=heard,
        others=room.script.others, announce=announce, hurry=live,
    )  # fmt: skip
    if live:
        time.sleep(max(0.0, say(THANKS, listener.now) - listener.now))
    if found.unasked:
        console.print(f"{found.unasked} phrases were left out: there was no more time for them.")
    return found


def _said_by_nobody(text: str, now: float) -> float:
    """A recording answers by itself."""
    return now


@contextmanager
def _reading_out(room: Room, clock: WallClock) -> Iterator[Callable[[str, float], float]]:
    """Lend what says a phrase aloud and returns when it will have been said."""
    if room.output.mute:
        yield lambda text, now: now
        return
    spoken = (BEGIN, *(line.said for line in room.script.chosen()), TALK, THANKS)
    with closing(mouth_of(room.output, remark, spoken)) as mouth:
        yield lambda text, _: mouth.carry_out((Say(text),), clock.now())
