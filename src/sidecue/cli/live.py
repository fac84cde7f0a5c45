"""The live screen: the terminal view redrawn, keys read, typed phrases judged."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from queue import SimpleQueue

from rich.console import Console, RenderableType
from rich.live import Live

from sidecue.board.feed import Ear
from sidecue.board.page import LastHeard
from sidecue.board.terminal import render
from sidecue.cli.boarding import Board, Metered, ear_state, last_heard
from sidecue.cli.hands import hands
from sidecue.cli.listening import Listening, remark
from sidecue.conductor.conducting import Conductor, Exchange
from sidecue.conductor.running import Commands, WallClock, run_live
from sidecue.hearing.ears import Ears
from sidecue.session.view import view


class _LastHeard:
    """Remembers what was heard last and what was made of it."""

    def __init__(self, conductor: Conductor) -> None:
        self._conductor = conductor
        self.heard = LastHeard()

    def __call__(self, exchange: Exchange) -> None:
        self.heard = last_heard(self._conductor, exchange) or self.heard


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
    last = _LastHeard(conductor)
    conductor.watch(last)
    over = listening.source.close if typing and board is None else _keep_listening
    source, meter = listening.source, None
    if not typing:
        source = meter = Metered(source)
    if board is not None:
        if not typing:
            source = board.metered(source)
        board.join(conductor, commands, clock)
    with hands(commands.put, over, typing=typing), _screen(console) as live:

        def show(now: float) -> None:
            if live is not None:
                state = ear_state(conductor, now, listens=meter is not None)
                level = 0 if meter is None else meter.level
                live.update(_picture(conductor, now, last.heard, Ear(state, level)))
            if board is not None:
                board.show(now)

        conductor.resume(clock.now())
        run_live(conductor, ears, source, clock, commands, show, remark)


def _keep_listening() -> None:
    """No more keys will come; the voice goes on."""


def _picture(conductor: Conductor, now: float, heard: LastHeard, ear: Ear) -> RenderableType:
    machine, state = conductor.machine, conductor.state
    address = "" if machine.answering(state) else machine.plan.address
    return render(view(machine, state, now), now, heard, ear, conductor.keys(), address)


@contextmanager
def _screen(console: Console) -> Iterator[Live | None]:
    if not console.is_terminal:
        yield None
        return
    with Live(console=console, refresh_per_second=8, screen=False) as live:
        yield live
