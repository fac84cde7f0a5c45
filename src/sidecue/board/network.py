"""The board on the local network, for those who ask for it: encrypted, and only once paired.

A page pairs by the code on the chair's own terminal. The certificate is `certificate`'s.
"""

from __future__ import annotations

import asyncio
import ipaddress
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import uvicorn
from uvicorn.server import ServerState

from sidecue.board.connections import MOST_CONNECTIONS, CappedProtocol

HANDSHAKE_WITHIN = 5.0  # seconds


@dataclass(frozen=True, slots=True)
class Certificate:
    """A self-signed certificate, ready to serve with, and its SHA-256 fingerprint."""

    context: ssl.SSLContext
    fingerprint: str


def local_address(text: str) -> str:
    """Return `text` when it is an address of a local network. Raises ValueError, one line."""
    try:
        address = ipaddress.IPv4Address(text)
    except ValueError:
        raise ValueError(f"{text!r} is no address of this machine: give one like 192.168.1.20") \
            from None  # fmt: skip
    if not address.is_private or address.is_unspecified or address.is_multicast:
        raise ValueError(f"{text} is not on a local network: give this machine's own there")
    return str(address)


class Door:
    """Lets encrypted connections in from `taken`, a bound socket; apart from the chair's own page,
    so that a crowd here leaves no less room there."""

    def __init__(self, config: uvicorn.Config, taken: socket.socket, shown: Certificate) -> None:
        self._config, self._socket, self._shown = config, taken, shown
        self._state = ServerState()
        self._waiting: set[asyncio.Task[Any]] = set()
        self._task: asyncio.Task[Any] | None = None

    def open(self) -> None:
        """Let in from now on. In the server's loop."""
        self._socket.setblocking(False)
        self._task = asyncio.get_running_loop().create_task(self._answer())

    def close(self) -> None:
        """Let nobody in any more, and send away who is there. In the server's loop."""
        for task in (self._task, *self._waiting):
            if task is not None:
                task.cancel()
        for each in list(self._state.connections):
            each.shutdown()
        self._socket.close()

    async def _answer(self) -> None:
        loop = asyncio.get_running_loop()
        while True:
            line, _ = await loop.sock_accept(self._socket)
            if len(self._waiting) + len(self._state.connections) >= MOST_CONNECTIONS:
                line.close()
                continue
            task = loop.create_task(self._let_in(line))
            self._waiting.add(task)
            task.add_done_callback(self._waiting.discard)

    async def _let_in(self, line: socket.socket) -> None:
        make: Callable[[], CappedProtocol] = lambda: CappedProtocol(  # noqa: E731
            self._config, self._state, {}
        )
        try:
            await asyncio.get_running_loop().connect_accepted_socket(
                make, line, ssl=self._shown.context, ssl_handshake_timeout=HANDSHAKE_WITHIN
            )
        except (OSError, ssl.SSLError):  # no TLS, another's, or none in time
            line.close()
