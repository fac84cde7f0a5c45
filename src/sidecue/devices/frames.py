"""Frames between this process and a helper child: one byte of kind, four of length, then bytes.

Imported by the children, so it must stay light: no numpy, no third-party module.
"""

from __future__ import annotations

import struct
from enum import IntEnum
from typing import BinaryIO

_HEAD = struct.Struct("<BI")


class Kind(IntEnum):
    """What a frame carries."""

    READY = 1  # child: JSON facts about the engine or device
    FAULT = 2  # child: UTF-8 text, why it cannot
    SOUND = 3  # child: int16 samples at the rate told in READY
    STATUS = 4  # child: how far playback is
    RENDER = 5  # parent: JSON {text, rate, voice}
    PLAY = 6  # parent: int16 samples at the rate told in READY
    SILENCE = 7  # parent: stop at once and drop what waits
    DROP_LAST = 8  # parent: one byte, how many of the sounds queued last to drop


def write_frame(stream: BinaryIO, kind: Kind, payload: bytes = b"") -> None:
    """Write one frame and flush. Raises OSError when the other side is gone."""
    stream.write(_HEAD.pack(kind, len(payload)) + payload)
    stream.flush()


def read_frame(stream: BinaryIO) -> tuple[Kind, bytes] | None:
    """Read one frame; None when the stream ended, also in the middle of a frame."""
    head = _exactly(stream, _HEAD.size)
    if head is None:
        return None
    kind, length = _HEAD.unpack(head)
    payload = _exactly(stream, length)
    return None if payload is None else (Kind(kind), payload)


def _exactly(stream: BinaryIO, count: int) -> bytes | None:
    parts: list[bytes] = []
    while count:
        part = stream.read(count)
        if not part:
            return None
        parts.append(part)
        count -= len(part)
    return b"".join(parts)
