"""Where the board is to be found, for those who only name it: its server is heavy to load."""

from __future__ import annotations

HOST = "127.0.0.1"
DEFAULT_PORT = 8737
