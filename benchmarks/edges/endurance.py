"""What a session takes when it goes on and on: processor, memory, drift.

Two parts. Hours of sound as fast as they go, through the live loop, the recogniser, a journal on
disk and the live screen, for the drift of memory. And minutes of `sidecue run` itself, as a user
starts it, with a real microphone and loudspeaker and its helpers, for the processor's share.
"""

from __future__ import annotations

import os
import pty
import select
import signal
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import numpy as np
from rich.console import Console
from rich.live import Live
from rich.progress import Progress

from benchmarks.edges.chair import CASE, OPENED
from benchmarks.edges.figures import leave
from benchmarks.edges.sound_room import LOUDSPEAKER, MICROPHONE, SoundRoom
from benchmarks.edges.weighing import called, family, memory, processor
from sidecue.board.terminal import render
from sidecue.cli.setting import DEFAULT_PRACTICE, setting
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.conducting import Conductor
from sidecue.conductor.running import Commands, run_live
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import RATE, Block
from sidecue.procedure.plan import TimerKind, TimerSpec
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.machine import SessionMachine
from sidecue.session.state import RunningTimer
from sidecue.session.view import view
from sidecue.speaking.cache import CachedVoice, default_folder
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.voice import PyttsVoice

_BLOCK = RATE // 20
_MARK = 120.0  # s of the session between two weighings
_SETTLED = 0.25  # of the time, left out of the drift: caches fill
_WARM_UP = 45.0  # s of the live part left out
_MAXIMUM = TimerSpec("etch", TimerKind.HARD_MAXIMUM, most=60.0)


class SoundClock:
    """The session's clock as far as the sound has come."""

    def __init__(self) -> None:
        self.at = 0.0

    def now(self) -> float:
        """Return the session's time."""
        return self.at


class Hours:
    """A source: hiss for two minutes, then as long with somebody talking now and then."""

    def __init__(self, seconds: float, clock: SoundClock, within: float) -> None:
        self._seconds, self._clock = seconds, clock
        self._until = time.monotonic() + within
        self._draw = np.random.default_rng(7)
        self._progress = Progress()
        self.marks: list[tuple[float, float]] = []  # seconds, MB

    def blocks(self) -> Iterator[Block]:
        """Yield it all, weighing the process now and then."""
        syllables = np.clip(np.sin(2 * np.pi * 4 * np.arange(_BLOCK * 30) / RATE), 0, 1)
        with self._progress as progress:
            bar = progress.add_task("hours", total=self._seconds)
            number = 0
            while (at := number * _BLOCK / RATE) < self._seconds:
                sound = self._draw.normal(0.0, 26.0, _BLOCK)
                if at // 120 % 2 and (part := number % 240) < 30:  # 1.5 s of every 12
                    shape = syllables[part * _BLOCK : (part + 1) * _BLOCK]
                    sound += 1500 * shape * self._draw.standard_normal(_BLOCK)
                self._clock.at = at + _BLOCK / RATE
                yield Block(at, sound.astype(np.int16))
                if number % int(_MARK * RATE / _BLOCK) == 0:
                    if time.monotonic() > self._until:
                        return
                    self.marks.append((at, sum(map(memory, family(os.getpid())))))
                    progress.update(bar, completed=at)
                number += 1

    def close(self) -> None:
        """Nothing to release."""


def main(hours: float, live: float, within: float) -> None:
    """Measure both, leave the figures; the hours end after `within` seconds all the same."""
    found: dict[str, Any] = {}
    if live:
        found |= _live(60.0 * live)
    if hours:
        found |= accelerated(3600.0 * hours, within)
    leave("endurance", found)


def accelerated(seconds: float, within: float) -> dict[str, Any]:
    """Run so many seconds of sound through a session as fast as they go, weighing it meanwhile."""
    clock = SoundClock()
    hours = Hours(seconds, clock, within)
    plan = setting(CASE, DEFAULT_PRACTICE).plan
    with (
        tempfile.TemporaryDirectory() as name,
        closing(recogniser_of("auto", None)) as recogniser,
        closing(SqliteJournal(Path(name) / "journal.sqlite3")) as journal,
        closing(Mouth(CachedVoice(PyttsVoice(), default_folder()), MuteLoudspeaker())) as mouth,
        Path(os.devnull).open("w", encoding="utf-8") as nowhere,
    ):
        session = journal.open_session(plan, OPENED)
        conductor = Conductor(SessionMachine(plan), journal, session, mouth)
        ears = Ears(recogniser, conductor.vocabulary)
        commands: Commands = SimpleQueue()
        console = Console(file=nowhere, force_terminal=True, width=120)
        conductor.start(0.0)
        # A passed maximum reminds every twenty seconds: prompts, journal rows and chimes.
        timer = RunningTimer(_MAXIMUM, conductor.state.step, 0.0, None)
        conductor.state = replace(conductor.state, timers=(timer,))
        begun = time.process_time()
        with Live(console=console, refresh_per_second=8) as screen:

            def show(now: float) -> None:
                if int(now * 20) % 20 == 0:
                    screen.update(render(view(conductor.machine, conductor.state, now), now))

            run_live(conductor, ears, hours, clock, commands, show)  # type: ignore[arg-type]
        took = time.process_time() - begun
        rows = sum(1 for _ in journal.events(session))
    seconds = clock.now()
    moments, weights = np.array(hours.marks).T
    late = moments >= _SETTLED * seconds
    slope = float(np.polyfit(moments[late] / 3600, weights[late], 1)[0]) if late.sum() > 2 else 0.0
    return {
        "hours of sound": round(seconds / 3600, 2),
        "MB at the start, all processes": round(float(weights[0]), 1),
        "MB at the end, all processes": round(float(weights[-1]), 1),
        "MB at most, all processes": round(float(weights.max()), 1),
        "drift, MB per hour": round(slope, 3),
        "MB every ten minutes": [round(float(each), 1) for each in weights[::5]],
        "events in the journal": rows,
        "processor share of the loop, accelerated, %": round(100 * took / seconds, 2),
    }


def _live(seconds: float) -> dict[str, Any]:
    """`sidecue run` in a terminal of its own, in a room with nothing but hiss."""
    with tempfile.TemporaryDirectory() as name:
        cache = os.environ.get("XDG_CACHE_HOME") or str(default_folder().parents[1])
        with SoundRoom(Path(name)):
            pid, terminal = pty.fork()
            if pid == 0:
                os.environ["XDG_CACHE_HOME"] = cache  # prompts of earlier visits are there
                os.environ["TERM"] = "xterm-256color"
                command = [str(Path(sys.executable).with_name("sidecue")), "run", CASE]
                command += ["--microphone", MICROPHONE, "--loudspeaker", LOUDSPEAKER]
                command += ["--store", f"{name}/journal.sqlite3", "--out", name]
                os.execv(command[0], command)
            drained = threading.Thread(target=_drain, args=(terminal,), daemon=True)
            drained.start()
            try:
                return _weigh(pid, seconds)
            finally:
                os.kill(pid, signal.SIGINT)
                time.sleep(2.0)
                os.kill(pid, signal.SIGKILL)
                os.waitpid(pid, 0)


def _weigh(pid: int, seconds: float) -> dict[str, Any]:
    time.sleep(_WARM_UP)
    before = {each: processor(each) for each in family(pid)}
    begun = time.monotonic()
    with Progress() as progress:
        bar = progress.add_task("live", total=seconds)
        while (gone := time.monotonic() - begun) < seconds:
            progress.update(bar, completed=gone)
            time.sleep(1.0)
    lasted = time.monotonic() - begun
    now = family(pid)
    shares = {each: 100 * (processor(each) - before.get(each, 0.0)) / lasted for each in now}
    weights = {each: memory(each) for each in now}
    return {
        "live minutes": round(lasted / 60, 1),
        "processor share of one core, idle, %": round(sum(shares.values()), 2),
        "of that": {called(each): round(share, 2) for each, share in shares.items()},
        "MB, all processes": round(sum(weights.values()), 1),
        "of these": {called(each): round(weight, 1) for each, weight in weights.items()},
    }


def _drain(terminal: int) -> None:
    while select.select([terminal], [], [], 60.0)[0]:
        try:
            if not os.read(terminal, 65_536):
                return
        except OSError:
            return
