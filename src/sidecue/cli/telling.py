"""Exchanges as lines: when, what was heard, what came of it, what is said."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import suppress

from rich.console import Console
from rich.text import Text

from sidecue.cli.listening import remark
from sidecue.conductor.conducting import Exchange
from sidecue.session.effects import Chime, Refuse, Say, Silence
from sidecue.session.events import CueGiven, DeviceBack, DeviceLost, HearingRefused, Restarted


def clock_text(seconds: float) -> str:
    """Return `seconds` as minutes, seconds and tenths: 83.42 is " 1:23.4"."""
    minutes, tenths = divmod(round(max(0.0, seconds) * 10), 600)
    return f"{minutes:2d}:{tenths / 10:04.1f}"


class VisitConsole(Console):
    """A console of a visit: where nobody reads it any more (`| head`), the visit goes on."""

    def on_broken_pipe(self) -> None:
        """Write no more, and say so."""
        self.quiet = True
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, sys.stdout.fileno())
        os.close(nowhere)
        with suppress(OSError):  # nor may anybody read this
            remark("nobody reads the output any more: the visit goes on, and its record is left")


class Teller:
    """Prints each exchange as it happens."""

    def __init__(self, console: Console) -> None:
        self._console = console

    def __call__(self, exchange: Exchange) -> None:
        """Print one exchange."""
        moment = clock_text(exchange.event.at)
        for number, line in enumerate(lines_of(exchange)):
            shown = Text(f"{moment if number == 0 else '':7}  ").append_text(line)
            self._console.print(shown, soft_wrap=True)


def lines_of(exchange: Exchange) -> Iterator[Text]:
    """Yield what happened in one exchange, a line each."""
    event = exchange.event
    refused = [effect for effect in exchange.effects if isinstance(effect, Refuse)]
    if isinstance(event, CueGiven):
        verdict = "refused" if refused else event.cue
        yield Text(f'hears    "{event.phrase or event.cue}" ').append(f"[{verdict}]", style="bold")
    elif isinstance(event, HearingRefused):
        heard = f'"{event.nearest}": ' if event.nearest else ""
        yield Text(f"ignores  {heard}{event.why}", style="dim")
    elif isinstance(event, DeviceLost | DeviceBack):
        yield Text(f"device   {event.device}")
    elif isinstance(event, Restarted):
        yield Text("restart")
    for effect in exchange.effects:
        if isinstance(effect, Say):
            yield Text(f"says     {effect.text}", style="bold" if refused else "")
        elif isinstance(effect, Chime) and effect.kind.value == "due":
            yield Text("chimes", style="dim")
        elif isinstance(effect, Silence):
            yield Text("falls silent", style="dim")
