"""The board's server: one page, its parts, the news, and a way in for keys. Loopback only, unless
a network is asked for.

It runs in a thread of its own beside the session and knows of it only what it is given: the feed
to show, and callables to hand on what was asked for.
"""

from __future__ import annotations

import json
import secrets
import socket
import threading
import time
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import uvicorn
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response, StreamingResponse
from starlette.routing import Route

from sidecue.board.connections import CappedProtocol
from sidecue.board.drawings import drawing
from sidecue.board.feed import Feed, News
from sidecue.board.guard import App, Guard
from sidecue.board.messages import BadMessage, read_ask, read_code, read_object, read_talk
from sidecue.board.network import Certificate, Door
from sidecue.board.pairing import PairedOnly, Pairing
from sidecue.board.place import DEFAULT_PORT, HOST
from sidecue.board.sizes import Viewing
from sidecue.procedure.plan import Tier
from sidecue.session.events import Source

BEAT = 1.0  # seconds between signs of life
MOST_SCREENS = 12

_STATIC = Path(__file__).parent / "static"
_TYPES = {".css": "text/css", ".js": "text/javascript", ".svg": "image/svg+xml"}

#: Takes a cue id, who gave it and the phrase that was shown for it.
PutCue = Callable[[str, Source, str], None]
#: Takes whether a pedal is held down to talk.
PutTalk = Callable[[bool], None]
#: Takes what the set-up page was filled in with; returns what it shows. `start` begins the visit.
Prepare = Callable[[dict[str, Any]], dict[str, Any]]


class BoardError(Exception):
    """The board cannot be served; one line says why and how to mend it."""


@dataclass(frozen=True, slots=True)
class Network:
    """The local network as a second way in: this machine's address there, and whom to tell each
    new pairing code."""

    address: str
    tell_code: Callable[[str], None]


class BoardServer:
    """Serves one chair. `now` gives the session's clock in seconds, from any thread."""

    def __init__(
        self,
        feed: Feed,
        put_cue: PutCue,
        now: Callable[[], float],
        viewing: Viewing,
        prepare: Prepare | None = None,
        port: int = DEFAULT_PORT,
        put_talk: PutTalk | None = None,
        network: Network | None = None,
    ) -> None:
        """Take the port. Raises BoardError when it is in use."""
        self._feed, self._put_cue, self._now = feed, put_cue, now
        self._viewing, self._prepare, self._put_talk = viewing, prepare, put_talk
        self._screens = 0
        self._run = secrets.token_hex(8)
        self._token = secrets.token_urlsafe(24)
        self._pair_token = secrets.token_urlsafe(24)
        self._pairing: Pairing | None = None
        self._static = {path.name: path.read_bytes() for path in _STATIC.iterdir()}
        self._socket = _bound(HOST, port)
        self.port: int = self._socket.getsockname()[1]
        hosts = frozenset(f"{name}:{self.port}" for name in (HOST, "localhost"))
        routes = self._routes()
        self.certificate: Certificate | None = None
        door = None
        if network is not None:
            try:
                door = self._door(routes, network)
            except BoardError:
                self._socket.close()
                raise
        self._server = _Server(_config(Guard(routes, hosts, self._token)), door)
        self._thread = threading.Thread(target=self._serve, name="board", daemon=True)

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://{HOST}:{self.port}/"

    def _door(self, routes: App, network: Network) -> Door:
        """Return the encrypted way in from the local network, for paired screens."""
        from sidecue.board.certificate import certificate  # only where it is asked for

        taken = _bound(network.address, self.port)
        self.certificate = certificate(network.address)
        self._pairing = Pairing(self.port, network.tell_code)
        own = {"/pair": self._pair_token}
        hosts = frozenset({f"{network.address}:{self.port}"})
        guarded = Guard(PairedOnly(routes, self._pairing), hosts, self._token, "https", own)
        return Door(_config(guarded), taken, self.certificate)

    def start(self) -> None:
        """Serve from now on. Raises BoardError when it does not come up."""
        self._thread.start()
        end = time.monotonic() + 10
        while not self._server.started:
            if time.monotonic() > end or not self._thread.is_alive():
                raise BoardError("the board's server does not come up: try another --port")
            time.sleep(0.01)

    def close(self) -> None:
        """Tell the screens, then stop. Safe to call twice."""
        self._feed.close()
        self._server.should_exit = True
        if self._thread.is_alive():
            self._thread.join(5)
        self._socket.close()

    def _serve(self) -> None:
        self._server.run(sockets=[self._socket])

    def _routes(self) -> Starlette:
        return Starlette(
            routes=[
                Route("/", self._page),
                Route("/watch", self._page),
                Route("/parts/{name}", self._part),
                Route("/drawings/{name}.svg", self._drawing),
                Route("/news", self._news),
                Route("/pair", self._pair_page),
                Route("/pair", self._pair, methods=["POST"]),
                Route("/cue", self._cue, methods=["POST"]),
                Route("/talk", self._talk, methods=["POST"]),
                Route("/case", self._case, methods=["POST"]),
            ]
        )

    async def _page(self, request: Request) -> Response:
        """The page; only the one that may act carries the token."""
        acts = request.url.path == "/"
        values = {
            "TOKEN": self._token if acts else "",
            "RUN": self._run,
            "LEAST": f"{self._viewing.least_mm:.3f}",
            "GOAL": f"{self._viewing.goal_mm:.3f}",
            "INCHES": f"{self._viewing.diagonal_inches:g}",
            "DISTANCE": f"{self._viewing.distance_m:g}",
            "TOLD": self._viewing.told,
        }
        text = self._static["board.html"].decode()
        for name, value in values.items():
            text = text.replace(f"@{name}@", value)
        return Response(text, media_type="text/html")

    async def _pair_page(self, _request: Request) -> Response:
        if self._pairing is None:
            return _line("this board is not on the network", 404)
        text = self._static["pair.html"].decode().replace("@TOKEN@", self._pair_token)
        return Response(text, media_type="text/html")

    async def _pair(self, request: Request) -> Response:
        if self._pairing is None:
            return _line("this board is not on the network", 404)
        try:
            given = self._pairing.pair(read_code(await request.body()))
        except BadMessage as error:
            return _line(str(error), 400)
        if given is None:
            return _line("that is not the code: look at the chair's terminal", 403)
        paired = JSONResponse({"taken": True})
        paired.set_cookie(
            self._pairing.cookie, given, path="/", secure=True, httponly=True, samesite="strict"
        )
        return paired

    async def _part(self, request: Request) -> Response:
        name = request.path_params["name"]
        kind = _TYPES.get(Path(name).suffix)
        if kind is None or name not in self._static:
            return _line("there is no such part", 404)
        return Response(self._static[name], media_type=kind)

    async def _drawing(self, request: Request) -> Response:
        svg = await run_in_threadpool(drawing, request.path_params["name"])
        return Response(svg, media_type="image/svg+xml")

    async def _news(self, _request: Request) -> Response:
        if self._screens >= MOST_SCREENS:
            return _line("too many screens are watching", 503)
        return StreamingResponse(self._tell(), media_type="text/event-stream")

    async def _tell(self) -> AsyncIterator[str]:
        self._screens += 1
        try:
            yield f"retry: 500\n{_event('hello', {'run': self._run})}"
            page, ear = -1, -1
            async for news in self._feed.follow(BEAT):
                yield self._changes(news, page, ear)
                page, ear = news.page_number, news.ear_number
        finally:
            self._screens -= 1

    def _changes(self, news: News, page: int, ear: int) -> str:
        """Every message carries the session's time, so that the page's clock keeps to it."""
        told: dict[str, Any] = {"now": round(self._now(), 3)}
        if news.page_number != page:
            told["page"], told["number"] = news.page, news.page_number
        if news.ear_number != ear:
            told["ear"] = {"state": news.ear.state, "level": news.ear.level}
        if news.over:
            told["over"] = True
        return _event("news", told)

    async def _cue(self, request: Request) -> Response:
        try:
            ask = read_ask(await request.body())
        except BadMessage as error:
            return _line(str(error), 400)
        row = self._feed.cue_on_page(ask.cue)
        if row is None:
            return _line("that cannot be said now", 409)
        # A word that stops or alarms always counts; anything else only on the page it was meant
        # for, and once.
        if not Tier(row["tier"]).always and not self._feed.spend(ask.scene):
            return _line("the board had just changed", 409)
        self._put_cue(ask.cue, ask.source, row["phrase"])
        return JSONResponse({"taken": True})

    async def _talk(self, request: Request) -> Response:
        try:
            held = read_talk(await request.body())
        except BadMessage as error:
            return _line(str(error), 400)
        if self._put_talk is None or self._feed.news.ear.state == "none":
            return _line("no microphone listens", 409)
        self._put_talk(held)
        return JSONResponse({"taken": True})

    async def _case(self, request: Request) -> Response:
        shown = self._feed.news.page
        setting_up = shown.get("kind") == "setup" or "wrote" in shown  # after a visit, the next
        if self._prepare is None or not setting_up:
            return _line("no case is being set up", 409)
        try:
            asked = read_object(await request.body())
        except BadMessage as error:
            return _line(str(error), 400)
        return JSONResponse(await run_in_threadpool(self._prepare, asked))


class _Server(uvicorn.Server):
    """Opens and closes the way in from the network with its own."""

    def __init__(self, config: uvicorn.Config, door: Door | None) -> None:
        super().__init__(config)
        self._door = door

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Let in."""
        await super().startup(sockets=sockets)
        if self._door is not None:
            self._door.open()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """Let nobody in any more."""
        if self._door is not None:
            self._door.close()
        await super().shutdown(sockets=sockets)


def _config(app: App) -> uvicorn.Config:
    return uvicorn.Config(
        app,
        http=CappedProtocol,
        ws="none",
        loop="asyncio",
        lifespan="off",
        log_config=None,
        access_log=False,
        server_header=False,
        date_header=False,
        proxy_headers=False,
        h11_max_incomplete_event_size=8192,
        timeout_keep_alive=75,
        timeout_graceful_shutdown=2,
    )


def _bound(host: str, port: int) -> socket.socket:
    taken = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        taken.bind((host, port))
        taken.listen(128)
    except (OSError, OverflowError) as error:
        taken.close()
        where = f"port {port}" if host == HOST else f"{host}, port {port},"
        raise BoardError(f"{where} cannot be used ({error}): give another --port") from error
    return taken


def _line(text: str, status: int) -> Response:
    return Response(text, status_code=status, media_type="text/plain")


def _event(name: str, data: dict[str, Any]) -> str:
    return f"event: {name}\ndata: {json.dumps(data, ensure_ascii=True)}\n\n"
