"""Pairing: a screen on the network must first be told the code that the chair's terminal shows."""

from __future__ import annotations

import hmac
import secrets
import threading
from collections.abc import Callable
from http.cookies import CookieError, SimpleCookie

from sidecue.board.guard import App, Receive, Refusal, Scope, Send, answer

DIGITS = 6
MOST_GUESSES = 5  # wrong ones, until the code is another
MOST_PAIRED = 12
_OPEN = ("/pair", "/parts/")
_PAGES = ("/", "/watch")


class Pairing:
    """The code, and the screens that knew it. `tell` is called with each new code."""

    def __init__(self, port: int, tell: Callable[[str], None]) -> None:
        # A cookie counts for every port of a machine: chairs must not overwrite each other's.
        self.cookie = f"__Host-sidecue-{port}"
        self._tell = tell
        self._lock = threading.Lock()
        self._paired: list[str] = []
        self._wrong = 0
        self._renew()

    def _renew(self) -> None:
        self.code = f"{secrets.randbelow(10**DIGITS):0{DIGITS}d}"
        self._wrong = 0
        self._tell(self.code)

    def pair(self, code: str) -> str | None:
        """Return the pass of a screen that gives the code, None for a wrong one."""
        with self._lock:
            if not hmac.compare_digest(code.encode(), self.code.encode()):
                self._wrong += 1
                if self._wrong >= MOST_GUESSES:
                    self._renew()
                return None
            given = secrets.token_urlsafe(24)
            self._paired = [*self._paired[-MOST_PAIRED + 1 :], given]
            return given

    def knows(self, given: str) -> bool:
        """Whether a screen with this pass was paired."""
        return any(hmac.compare_digest(given.encode(), each.encode()) for each in self._paired)


class PairedOnly:
    """Wraps an ASGI application: who is not paired meets the pairing page and nothing else."""

    def __init__(self, app: App, pairing: Pairing) -> None:
        self._app, self._pairing = app, pairing

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass on what comes from a paired screen."""
        path = scope["path"]
        if path.startswith(_OPEN) or self._paired(scope):
            await self._app(scope, receive, send)
        elif path in _PAGES:
            headers = [(b"location", b"/pair")]
            await send({"type": "http.response.start", "status": 303, "headers": headers})
            await send({"type": "http.response.body", "body": b""})
        else:
            await answer(send, Refusal(403, "pair this screen first"))

    def _paired(self, scope: Scope) -> bool:
        for name, value in scope["headers"]:
            if name.lower() == b"cookie":
                try:
                    crumbs = SimpleCookie(value.decode("latin-1"))
                except CookieError:
                    return False
                found = crumbs.get(self._pairing.cookie)
                if found is not None and self._pairing.knows(found.value):
                    return True
        return False
