"""A helper program we own: started by module name, spoken to in frames, killed when late.

Speech engines and sound libraries can hang or abort; in a child they take nothing with them.
"""

from __future__ import annotations

import contextlib
import queue
import subprocess
import sys
import threading
from typing import BinaryIO, cast

from sidecue.devices.frames import Kind, read_frame, write_frame

Frame = tuple[Kind, bytes]


class ChildGoneError(Exception):
    """The child ended, or its pipe broke."""


class Child:
    """One running helper. It ends by itself when this process ends: its input closes."""

    def __init__(self, module: str, *arguments: str) -> None:
        self._process = subprocess.Popen(
            # -P: the folder we happen to stand in must not supply the child's modules.
            [sys.executable, "-P", "-m", module, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
        )
        self._frames: queue.SimpleQueue[Frame | None] = queue.SimpleQueue()
        # Pipes have no time-out on every platform, so one thread waits on this one.
        self._reader = threading.Thread(target=self._read, name=f"{module}-reader", daemon=True)
        self._reader.start()

    @property
    def pid(self) -> int:
        """Process id."""
        return self._process.pid

    def send(self, kind: Kind, payload: bytes = b"") -> None:
        """Send one frame. Raises ChildGoneError."""
        try:
            write_frame(cast(BinaryIO, self._process.stdin), kind, payload)
        except (OSError, ValueError) as error:
            raise ChildGoneError(str(error)) from error

    def receive(self, timeout: float) -> Frame | None:
        """Return the next frame; None when none came within `timeout` seconds.

        Raises ChildGoneError when the child has ended and all its frames were read.
        """
        try:
            frame = self._frames.get(timeout=timeout)
        except queue.Empty:
            return None
        if frame is None:
            self._frames.put(None)  # so that the next call raises too
            raise ChildGoneError("the helper ended")
        return frame

    def kill(self) -> None:
        """End the child now. Safe to call twice."""
        self._process.kill()
        with contextlib.suppress(subprocess.TimeoutExpired):  # stuck in a driver: left behind
            self._process.wait(timeout=1.0)
        with contextlib.suppress(OSError):
            cast(BinaryIO, self._process.stdin).close()
        self._reader.join(timeout=1.0)
        if not self._reader.is_alive():
            cast(BinaryIO, self._process.stdout).close()

    def _read(self) -> None:
        stream = cast(BinaryIO, self._process.stdout)
        try:
            while (frame := read_frame(stream)) is not None:
                self._frames.put(frame)
        except (OSError, ValueError):
            pass  # killed in the middle of a frame: the same as ended
        self._frames.put(None)
