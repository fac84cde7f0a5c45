"""What a loudspeaker, or a room, sounded, with the moment of each sample on the monotonic clock."""

from __future__ import annotations

import os
import subprocess
import threading
import time

import numpy as np

from benchmarks.edges.sound_room import RATE

_CHUNK = 65_536
_SETTLE = 0.4  # s


class Recorder:
    """Records the monitor of a sink, 16 kHz mono.

    A chunk arrives some time after its last sample sounded, never before: over many chunks the
    earliest arrival tells when the recording began, to a few milliseconds and never too early.
    """

    def __init__(self, sink: str) -> None:
        words = ["parec", "-d", f"{sink}.monitor", f"--rate={RATE}", "--channels=1"]
        words += ["--format=s16le", "--latency-msec=5"]
        self._process = subprocess.Popen(
            words, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, bufsize=0
        )
        self._lock = threading.Lock()
        self._parts: list[bytes] = []
        self._size = 0
        self._began = float("inf")
        threading.Thread(target=self._read, daemon=True).start()
        end = time.monotonic() + 30.0
        while not self._size:
            assert time.monotonic() < end, f"nothing arrives from the monitor of {sink}"
            time.sleep(0.01)
        time.sleep(_SETTLE)

    def _read(self) -> None:
        assert self._process.stdout is not None
        while part := os.read(self._process.stdout.fileno(), _CHUNK):
            now = time.monotonic()
            with self._lock:
                self._parts.append(part)
                self._size += len(part)
                self._began = min(self._began, now - self._size / 2 / RATE)

    def since(self, moment: float) -> tuple[float, np.ndarray]:
        """Return the samples from `moment` on, and the moment of the first of them."""
        with self._lock:
            samples = np.frombuffer(b"".join(self._parts)[: self._size // 2 * 2], "<i2")
            self._parts = [b"".join(self._parts)]
            began = self._began
        first = max(0, round((moment - began) * RATE))
        return began + first / RATE, samples[first:]

    def loud(self, since: float, above: int = 150) -> np.ndarray:
        """Return the moments, from `since` on, of all samples louder than `above`."""
        began, samples = self.since(since)
        return began + np.flatnonzero(np.abs(samples.astype(np.int32)) > above) / RATE

    def close(self) -> None:
        """Stop."""
        self._process.kill()
        self._process.wait()
