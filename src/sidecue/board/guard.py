"""Who may speak to the board: this machine's own pages, in small messages, and nobody else.

A page of another site can make a browser send requests here. It cannot forge `Host` (DNS
rebinding shows in it) or `Origin`, nor read the token that our own page carries, so each is
checked. Everything is refused before a handler runs.
"""

from __future__ import annotations

import asyncio
import contextlib
import hmac
from collections.abc import Awaitable, Callable, Mapping, MutableMapping
from dataclasses import dataclass
from typing import Any

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

LARGEST_MESSAGE = 4096  # bytes
LARGEST_HEADING = 8192  # bytes
WHOLE_MESSAGE_WITHIN = 5.0  # seconds
LINGER = 0.5  # seconds
TOKEN_HEADER = "x-board-token"
_OWN_SITE = frozenset({b"same-origin", b"none"})

_HEADERS = (
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        b"connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"x-frame-options", b"DENY"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(), microphone=(), geolocation=()"),
    (b"cache-control", b"no-store"),
)


@dataclass
class Refusal(Exception):  # noqa: N818 - an answer, not a fault
    """Why a request is turned away: its status and one line."""

    status: int
    why: str


class Guard:
    """Wraps an ASGI application. `hosts` are the names with port that this board answers to.

    `token` must come with whatever changes anything; a path of `tokens` has one of its own.
    """

    def __init__(
        self,
        app: App,
        hosts: frozenset[str],
        token: str,
        scheme: str = "http",
        tokens: Mapping[str, str] | None = None,
    ) -> None:
        self._app = app
        self._hosts = {host.encode() for host in hosts}
        self._origins = {f"{scheme}://".encode() + host for host in self._hosts}
        self._token = token
        self._tokens = dict(tokens or {})

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what is ours, refuse the rest."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        guarded = _with_headers(send)
        try:
            self._check(scope)
            body = await _body_in_time(receive) if scope["method"] == "POST" else b""
        except Refusal as refusal:
            if scope.get("method") == "POST":
                await _let_it_finish(receive)
            await answer(guarded, refusal)
            return
        await self._app(scope, _Replay(body, receive), guarded)

    def _check(self, scope: Scope) -> None:
        if scope["type"] != "http":
            raise Refusal(403, "only plain requests are answered")
        if sum(len(name) + len(value) for name, value in scope["headers"]) > LARGEST_HEADING:
            raise Refusal(431, "the heading is too long")
        headers: dict[bytes, list[bytes]] = {}
        for name, value in scope["headers"]:
            headers.setdefault(name.lower(), []).append(value)
        if scope["method"] not in ("GET", "HEAD", "POST"):
            raise Refusal(405, "only GET and POST are answered")
        if len(headers.get(b"host", ())) != 1 or headers[b"host"][0] not in self._hosts:
            raise Refusal(421, "this board answers only to its own address")
        if any(origin not in self._origins for origin in headers.get(b"origin", ())):
            raise Refusal(403, "a page of another site asked")
        if any(site not in _OWN_SITE for site in headers.get(b"sec-fetch-site", ())):
            raise Refusal(403, "a page of another site asked")
        if scope["method"] == "POST":
            given = headers.get(TOKEN_HEADER.encode(), [b""])[0]
            wanted = self._tokens.get(scope["path"], self._token).encode()
            if not hmac.compare_digest(given, wanted):
                raise Refusal(403, "no permission to change anything: reload the board")
            kinds = headers.get(b"content-type", [b""])
            if kinds[0].split(b";")[0].strip() != b"application/json":
                raise Refusal(415, "only JSON is taken")


class _Replay:
    """Gives the application the body that was read, then whatever comes (a disconnect)."""

    def __init__(self, body: bytes, receive: Receive) -> None:
        self._body: bytes | None = body
        self._receive = receive

    async def __call__(self) -> Message:
        if self._body is not None:
            body, self._body = self._body, None
            return {"type": "http.request", "body": body, "more_body": False}
        while (message := await self._receive())["type"] == "http.request":
            pass  # what a GET carries is not read
        return message


async def _body_in_time(receive: Receive) -> bytes:
    try:
        return await asyncio.wait_for(_body(receive), WHOLE_MESSAGE_WITHIN)
    except TimeoutError:
        raise Refusal(408, "the message took too long") from None


async def _let_it_finish(receive: Receive) -> None:
    """Read what a refused sender still has to say, a little and briefly.

    Closing on unread bytes resets the connection, and the answer may be lost with it (RFC 9112,
    section 9.6).
    """
    with contextlib.suppress(TimeoutError, Refusal):
        await asyncio.wait_for(_body(receive), LINGER)


async def _body(receive: Receive) -> bytes:
    body = bytearray()
    while True:
        message = await receive()
        if message["type"] != "http.request":
            raise Refusal(400, "the message broke off")
        body += message.get("body", b"")
        if len(body) > LARGEST_MESSAGE:
            raise Refusal(413, f"a message has at most {LARGEST_MESSAGE} bytes")
        if not message.get("more_body", False):
            return bytes(body)


def _with_headers(send: Send) -> Send:
    async def with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            message["headers"] = [*message.get("headers", ()), *_HEADERS]
        await send(message)

    return with_headers


async def answer(send: Send, refusal: Refusal) -> None:
    """Turn a request away with its one line."""
    text = refusal.why.encode()
    headers = [(b"content-type", b"text/plain; charset=utf-8"), (b"connection", b"close")]
    await send({"type": "http.response.start", "status": refusal.status, "headers": headers})
    await send({"type": "http.response.body", "body": text})
