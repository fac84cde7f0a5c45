"""The live screen: the terminal view redrawn, keys read, typed phrases judged."""

from __future__ import annotations

import select
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from queue import SimpleQueue

import numpy as np
from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from sidecue.board.terminal import Heard, render
from sidecue.cli.trouble import Trouble
from sidecue.cli.visit import epoch_of
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.conducting import Conductor, Exchange
from sidecue.conductor.running import Commands, Press, Typed, WallClock, run_live
from sidecue.hearing.ears import Ears
from sidecue.hearing.microphone import Microphone
from sidecue.hearing.port import AudioSource, Block
from sidecue.record.port import Journal
from sidecue.session.events import CueGiven, HearingRefused
from sidecue.session.keys import ENTER
from sidecue.session.view import view

TICK = 0.1  # seconds between looks at keys and timers when there is no microphone


class NoMicrophone:
    """A source of nothing, at the pace of the clock: keys and timers still work."""

    def __init__(self, clock: WallClock) -> None:
        self._clock = clock
        self._closed = False

    def blocks(self) -> Iterator[Block]:
        """Yield an empty block every tick until closed."""
        while not self._closed:
            time.sleep(TICK)
            yield Block(self._clock.now(), np.zeros(0, dtype=np.int16))

    def close(self) -> None:
        """End it."""
        self._closed = True


class _LastHeard:
    """Remembers what was heard last and what was made of it."""

    def __init__(self) -> None:
        self.heard = Heard()

    def __call__(self, exchange: Exchange) -> None:
        event = exchange.event
        if isinstance(event, CueGiven):
            self.heard = Heard(event.phrase, event.cue)
        elif isinstance(event, HearingRefused):
            self.heard = Heard(event.nearest, event.why)


def run_here(
    conductor: Conductor,
    journal: Journal,
    engine: str,
    model: str | None,
    microphone: str | None,
    console: Console,
) -> None:
    """Run live until the procedure ends or Ctrl-C."""
    opened = next(info.opened for info in journal.sessions() if info.id == conductor.session)
    clock = WallClock(epoch_of(opened))
    commands: Commands = SimpleQueue()
    source: AudioSource
    ears = None
    recogniser = None
    if engine == "text":
        source = NoMicrophone(clock)
    else:
        recogniser = recogniser_of(engine, model)
        ears = Ears(recogniser, conductor.vocabulary)
        source = Microphone(microphone, clock.now)
    last = _LastHeard()
    conductor.watch(last)
    try:
        with _hands(commands, typing=engine == "text"), _screen(console) as live:

            def show(now: float) -> None:
                if live is not None:
                    live.update(_picture(conductor, now, last.heard))

            conductor.resume(clock.now())
            run_live(conductor, ears, source, clock, commands, show)
    finally:
        source.close()
        if recogniser is not None:
            recogniser.close()


def _picture(conductor: Conductor, now: float, heard: Heard) -> Group:
    keys = "   ".join(f"[{key}] {cue.phrases[0]}" for key, cue in conductor.keys().items())
    return Group(
        render(view(conductor.machine, conductor.state, now), heard), Text(f"Keys: {keys}")
    )


@contextmanager
def _screen(console: Console) -> Iterator[Live | None]:
    if not console.is_terminal:
        yield None
        return
    with Live(console=console, refresh_per_second=8, screen=False) as live:
        yield live


@contextmanager
def _hands(commands: Commands, *, typing: bool) -> Iterator[None]:
    """Read keys (or, when `typing` or without a terminal, whole lines) into `commands`."""
    ending = threading.Event()
    keyed = sys.stdin.isatty() and not typing
    with _one_key_at_a_time() if keyed else nullcontext():
        reader = threading.Thread(
            target=_read_keys if keyed else _read_lines, args=(commands, ending), daemon=True
        )
        reader.start()
        try:
            yield
        finally:
            ending.set()


@contextmanager
def _one_key_at_a_time() -> Iterator[None]:
    try:
        import termios
        import tty
    except ImportError as error:
        raise Trouble("keys need a Unix terminal here: use --engine text to type") from error
    before = termios.tcgetattr(sys.stdin)
    tty.setcbreak(sys.stdin)
    try:
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)


def _read_keys(commands: Commands, ending: threading.Event) -> None:
    while not ending.is_set():
        if select.select([sys.stdin], [], [], 0.2)[0]:
            key = sys.stdin.read(1)
            if not key:
                return
            commands.put(Press(ENTER if key in "\r\n " else key))


def _read_lines(commands: Commands, ending: threading.Event) -> None:
    for line in sys.stdin:
        if ending.is_set():
            return
        words = line.strip()
        is_key = len(words) <= 1
        commands.put(Press(words or ENTER) if is_key else Typed(words))
