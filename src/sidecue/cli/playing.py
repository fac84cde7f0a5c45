"""A recording or a script that is shown on a board as if it happened now, or faster."""

from __future__ import annotations

import time
from collections.abc import Iterable, Iterator
from queue import SimpleQueue
from typing import TYPE_CHECKING, Annotated

import typer

from sidecue.conductor.conducting import Conductor
from sidecue.conductor.running import Commands, run_recording
from sidecue.hearing.ears import Heard
from sidecue.session.events import Source

if TYPE_CHECKING:
    from sidecue.cli.boarding import Board

Speed = Annotated[
    float,
    typer.Option(
        min=0.0, help="With --board, how many times faster a recording plays; 0: at once."
    ),
]


class TapeClock:
    """The clock of a recording: how far it has been heard."""

    def __init__(self) -> None:
        self.at = 0.0

    def now(self) -> float:
        """Return the session's time."""
        return self.at


def play(
    conductor: Conductor,
    listened: Iterable[Heard],
    board: Board | None,
    speed: float,
    source: Source = Source.VOICE,
) -> None:
    """Run a recording to its end, on `board` where there is one: keys and pedal count there too."""
    if board is None:
        conductor.start(0.0)
        run_recording(conductor, listened, lambda _: None, source=source)
        return
    commands: Commands = SimpleQueue()
    clock = TapeClock()
    board.join(conductor, commands, clock)
    conductor.start(0.0)

    def show(now: float) -> None:
        clock.at = now
        board.show(now)

    run_recording(conductor, _paced(listened, speed), show, commands, source)


def _paced(listened: Iterable[Heard], speed: float) -> Iterator[Heard]:
    """Yield each no sooner than its moment comes at `speed`."""
    begun = time.monotonic()
    for heard in listened:
        if speed > 0 and (ahead := begun + heard.now / speed - time.monotonic()) > 0:
            time.sleep(ahead)
        yield heard
