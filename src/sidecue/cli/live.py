"""The live screen: the terminal view redrawn, keys read, typed phrases judged."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from queue import SimpleQueue
from typing import TYPE_CHECKING

from rich.console import Console, RenderableType
from rich.live import Live

from sidecue.board.ear import Ear
from sidecue.board.page import LastHeard
from sidecue.board.terminal import render, ticking
from sidecue.cli.ear_shown import Metered, ear_state, last_heard
from sidecue.cli.hands import hands, line_so_far
from sidecue.cli.listening import Listening, remark
from sidecue.conductor.conducting import Conductor, Exchange
from sidecue.conductor.running import Commands, WallClock, run_live
from sidecue.hearing.ears import Ears
from sidecue.session.view import view

if TYPE_CHECKING:
    from sidecue.cli.boarding import Board

#: Seconds between two pictures, at least: drawing one takes ten times as long as making it.
EVERY = 0.125


class _LastHeard:
    """Remembers what was heard last and what was made of it."""

    def __init__(self, conductor: Conductor) -> None:
        self._conductor = conductor
        self.heard = LastHeard()

    def __call__(self, exchange: Exchange) -> None:
        self.heard = last_heard(self._conductor, exchange) or self.heard


class Screen:
    """The picture on a terminal, drawn when something to be seen has changed."""

    def __init__(self, live: Live, conductor: Conductor, typed: Callable[[], str | None]) -> None:
        self._live, self._conductor, self._typed = live, conductor, typed
        self._last = _LastHeard(conductor)
        conductor.watch(self._last)
        self._shown: object = None
        self._looked = float("-inf")

    def show(self, now: float, ear: Ear) -> None:
        """Draw what is to be seen now, where it is another picture than the last, and not sooner
        than `EVERY` after it."""
        looked = time.monotonic()
        if looked - self._looked >= EVERY:
            self._looked = looked
            self.draw(now, ear)

    def draw(self, now: float, ear: Ear) -> None:
        """Draw what is to be seen now, where it is another picture than the last."""
        conductor, heard, typed = self._conductor, self._last.heard, self._typed()
        machine, state = conductor.machine, conductor.state
        seen = view(machine, state, now)
        shown = (state, heard, ear, typed, self._live.console.size, ticking(seen, now))
        if shown == self._shown:
            return
        self._shown = shown
        address = "" if machine.answering(state) else machine.plan.address
        picture: RenderableType = render(seen, now, heard, ear, conductor.keys(), address, typed)
        self._live.update(picture, refresh=True)


def run_here(
    conductor: Conductor,
    listening: Listening,
    clock: WallClock,
    console: Console,
    board: Board | None = None,
) -> None:
    """Run live until the procedure ends, typed input ends (but a `board` has keys of its own), or
    Ctrl-C."""
    commands: Commands = SimpleQueue()
    typing = listening.recogniser is None
    ears = (
        None if listening.recogniser is None else Ears(listening.recogniser, conductor.vocabulary)
    )
    over = listening.source.close if typing and board is None else _keep_listening
    source, meter = listening.source, None
    if not typing:
        source = meter = Metered(source)
    if board is not None:
        if not typing:
            source = board.metered(source)
        board.join(conductor, commands, clock)

    def ear(now: float) -> Ear:
        state = ear_state(conductor, now, listens=meter is not None)
        return Ear(state, 0 if meter is None else meter.level)

    with (
        hands(commands.put, over, typing=typing, drawn=console.is_terminal),
        _live(console) as live,
    ):
        screen = None if live is None else Screen(live, conductor, line_so_far)

        def show(now: float) -> None:
            if screen is not None:
                screen.show(now, ear(now))
            if board is not None:
                board.show(now)

        conductor.resume(clock.now())
        try:
            run_live(conductor, ears, source, clock, commands, show, remark)
        finally:
            if screen is not None:  # the last picture stays
                screen.draw(clock.now(), ear(clock.now()))


def _keep_listening() -> None:
    """No more keys will come; the voice goes on."""


@contextmanager
def _live(console: Console) -> Iterator[Live | None]:
    if not console.is_terminal:
        yield None
        return
    with Live(console=console, auto_refresh=False, screen=False) as live:
        yield live
