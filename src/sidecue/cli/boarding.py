"""The board beside a run: what happens is shown, what is pressed there becomes a command."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol

import typer

from sidecue.board.ear import Ear
from sidecue.board.feed import Feed
from sidecue.board.network import local_address
from sidecue.board.page import LastHeard, Page, page
from sidecue.board.server import BoardError, BoardServer, Network, Prepare
from sidecue.board.sizes import Viewing
from sidecue.cli.ear_shown import Metered, ear_state, last_heard
from sidecue.cli.trouble import Trouble
from sidecue.conductor.conducting import Conductor, Exchange
from sidecue.conductor.running import Command, Commands, Talk, WallClock
from sidecue.conductor.telling_case import Requests
from sidecue.hearing.port import AudioSource
from sidecue.session.events import Source
from sidecue.session.view import view

_LEVEL_EVERY = 0.2  # seconds between changes of the level shown


class Clock(Protocol):
    """A session's clock."""

    def now(self) -> float:
        """Return the session's time in seconds."""
        ...


def viewing(inches: float, metres: float) -> Viewing:
    """Return the screen and its reader. Raises Trouble for what cannot be."""
    try:
        return Viewing(inches, metres)
    except ValueError as error:
        raise Trouble(str(error)) from error


@contextmanager
def boarded(
    port: int, seen: Viewing, prepare: Prepare | None = None, lan: str | None = None
) -> Iterator[Board]:
    """Serve a board and tell where; stop it at the end. `lan` is this machine's address on the
    local network, to be reached there too. Raises Trouble."""
    board = Board(port, seen, prepare, lan)
    try:
        typer.echo(f"board: {board.url} (a second screen only watches at {board.url}watch)")
        typer.echo(f"board: {seen.told}")
        if lan is not None:
            typer.echo(
                f"board on the network: https://{lan}:{board.port}/\n"
                "WARNING: whoever is on this network and is told the code can act in this visit.\n"
                "The browser warns of the certificate, for it was made just now; compare SHA-256\n"
                f"  {board.fingerprint}"
            )
        yield board
    finally:
        board.close()


def _tell_code(code: str) -> None:
    typer.echo(f"pairing code: {code[:3]} {code[3:]}")


class Board:
    """One chair's board, for any number of visits, one after the other."""

    def __init__(
        self,
        port: int,
        viewing: Viewing,
        prepare: Prepare | None = None,
        lan: str | None = None,
    ) -> None:
        """Serve it. Raises Trouble when the port is taken, or `lan` is no local address."""
        self._clock: Clock | None = None
        self._commands: Commands | Requests | None = None
        self._conductor: Conductor | None = None
        self._meter: Metered | None = None
        self._heard = LastHeard()
        self._level_at = 0.0
        self._wall = WallClock(0.0)
        self.feed = Feed(self._wall.now)
        try:
            network = None if lan is None else Network(local_address(lan), _tell_code)
            self._server = BoardServer(
                self.feed, self._put, self._now, viewing, prepare, port, self._talk, network
            )
            self._server.start()
        except (BoardError, ValueError) as error:
            raise Trouble(str(error)) from error

    @property
    def url(self) -> str:
        """Where the page is."""
        return self._server.url

    @property
    def port(self) -> int:
        """Its port."""
        return self._server.port

    @property
    def fingerprint(self) -> str:
        """The SHA-256 fingerprint of its certificate; empty without a network."""
        shown = self._server.certificate
        return "" if shown is None else shown.fingerprint

    @property
    def listens(self) -> bool:
        """Whether a microphone is metered."""
        return self._meter is not None

    def metered(self, source: AudioSource) -> AudioSource:
        """Return `source` with its loudness on the board."""
        self._meter = Metered(source)
        return self._meter

    def prepare(self, requests: Requests) -> None:
        """Hand on what is asked for while a case is set up."""
        self._conductor, self._commands, self._meter = None, requests, None

    def join(self, conductor: Conductor, commands: Commands, clock: Clock) -> None:
        """Show this session from now on. In the session's thread."""
        self._conductor, self._commands, self._clock = conductor, commands, clock
        self._heard = LastHeard()
        conductor.watch(self._watch)

    def show(self, now: float) -> None:
        """Show what changes without an event: the microphone. In the session's thread."""
        conductor = self._conductor
        if conductor is None:
            return
        self.show_ear(ear_state(conductor, now, listens=self._meter is not None), now)

    def show_ear(self, state: str, now: float) -> None:
        """Show the microphone's state, and how loud it is."""
        level = self.feed.news.ear.level
        if self._meter is not None and now - self._level_at >= _LEVEL_EVERY:
            level, self._level_at = self._meter.level, now
        self.feed.hear(Ear(state, level))

    def leave(self, wrote: tuple[str, ...]) -> None:
        """The session is over; its last page stays, and names the files it left."""
        shown = dict(self.feed.news.page)
        self._commands = self._meter = self._conductor = None
        self.feed.hear(Ear())
        self.feed.publish({**shown, "wrote": list(wrote)})

    def publish(self, shown: Page) -> None:
        """Show a page that is no session's."""
        self.feed.publish(shown)

    def close(self) -> None:
        """Serve no longer."""
        self._server.close()

    def _now(self) -> float:
        return 0.0 if self._clock is None else self._clock.now()

    def _put(self, cue: str, source: Source, phrase: str) -> None:
        commands = self._commands
        if commands is not None:
            commands.put(Command(cue, source, phrase))

    def _talk(self, held: bool) -> None:
        commands = self._commands
        if commands is not None:
            commands.put(Talk(held))

    def _watch(self, exchange: Exchange) -> None:
        conductor = self._conductor
        if conductor is None:
            return
        self._heard = last_heard(conductor, exchange) or self._heard
        state = exchange.after
        bare = conductor.machine.answering(state)
        self.feed.publish(
            page(
                view(conductor.machine, state, exchange.event.at),
                conductor.keys(),
                exchange.event.at,
                self._heard,
                "" if bare else conductor.machine.plan.address,
            )
        )
