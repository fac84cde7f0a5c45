"""At most so many connections at once, and none that says nothing for long."""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

MOST_CONNECTIONS = 48
FIRST_REQUEST_WITHIN = 5.0  # seconds from connecting to a whole request


class CappedProtocol(H11Protocol):
    """One connection. One too many is closed at once, so those that are open keep working."""

    _patience: asyncio.TimerHandle | None = None

    def connection_made(self, transport: Any) -> None:
        """Take the connection, or close it."""
        if len(self.connections) >= MOST_CONNECTIONS:
            transport.abort()
            self._refused = True
            return
        super().connection_made(transport)
        self._patience = self.loop.call_later(FIRST_REQUEST_WITHIN, self._give_up)

    def connection_lost(self, exc: Exception | None) -> None:
        """Forget it."""
        if self._patience is not None:
            self._patience.cancel()
        if not getattr(self, "_refused", False):
            super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Read on."""
        if not getattr(self, "_refused", False):
            super().data_received(data)

    def eof_received(self) -> None:
        """Nothing more will come."""

    def _give_up(self) -> None:
        if self.cycle is None:
            self.transport.abort()
