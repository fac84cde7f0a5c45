"""The child that plays: one PortAudio output stream, always open, fed from a queue.

Run by `PortAudioLoudspeaker`; frames on stdin and stdout. In a child because PortAudio's list of
devices is frozen when it is loaded, its close may hang, and a device that went away is found
again only by a fresh start.

The callback does arithmetic on bytes and nothing else: no numpy, no pipe, no lock held long.
"""

from __future__ import annotations

import json
import os
import threading
import time
from array import array
from collections import deque
from collections.abc import Callable
from typing import Any, BinaryIO

from sidecue.devices.frames import Kind, read_frame
from sidecue.devices.naming import Device, DeviceError
from sidecue.devices.portaudio import library
from sidecue.devices.serving import Pipe, serve

_BLOCK = 0.015  # s
_LATENCY = 0.030  # s asked of PortAudio: short enough to fall silent in time
_FADE = 0.005  # s, on silence: no click
_STUCK = 0.6  # s without a callback: the device is gone
_WAKING = 3.0  # s an idle or sleeping output may take to start asking for samples
_AWAKE_AFTER = 8  # callbacks; the first few only fill the device's buffer


class Queue:
    """What waits to be played, and how far playback is. Shared with the callback."""

    def __init__(self, rate: int) -> None:
        self._rate = rate
        self._sounds: deque[memoryview] = deque()
        self._lock = threading.Lock()
        self._begun = False  # the first sound has been heard in part
        self.clear_at = 0.0  # monotonic time at which all sound so far has left the device
        self.taken = 0  # commands carried out
        self.called = time.monotonic()  # when the device last asked for samples
        self.calls = 0

    def add(self, samples: bytes) -> None:
        """Queue int16 samples."""
        with self._lock:
            if samples:
                self._sounds.append(memoryview(samples))
            self.taken += 1

    def drop_last(self, count: int | None = None) -> None:
        """Drop the last `count` sounds, or all; one that has begun fades out in 5 ms."""
        with self._lock:
            keep = 0 if count is None else max(0, len(self._sounds) - count)
            while len(self._sounds) > keep:
                dropped = self._sounds.pop()
            if keep == 0 and self._begun:
                self._sounds.append(self._faded(dropped))
            self.taken += 1

    def fill(self, out: Any, frames: int, delay: float) -> None:
        """Fill `out` with `frames` samples that leave the device `delay` seconds from now."""
        now = self.called = time.monotonic()
        self.calls += 1
        with self._lock:
            want, have = frames * 2, 0
            while self._sounds and have < want:
                part = self._sounds[0][: want - have]
                out[have : have + len(part)] = part
                have += len(part)
                self._begun = len(part) < len(self._sounds[0])
                if self._begun:
                    self._sounds[0] = self._sounds[0][len(part) :]
                else:
                    self._sounds.popleft()
            out[have:want] = bytes(want - have)
            if have:
                self.clear_at = now + delay + have / 2 / self._rate

    def status(self) -> dict[str, Any]:
        """How far: `clear_at` counts what is still queued."""
        with self._lock:
            queued = sum(map(len, self._sounds)) / 2 / self._rate
            clear_at = max(self.clear_at, time.monotonic() + _LATENCY if queued else 0.0)
            return {"taken": self.taken, "clear_at": clear_at + queued}

    def _faded(self, samples: memoryview) -> memoryview:
        count = min(len(samples) // 2, round(_FADE * self._rate))
        fading = array("h", bytes(samples[: count * 2]))
        for place in range(count):
            fading[place] = fading[place] * (count - place) // count
        return memoryview(fading.tobytes())


def _open(number: int, device: Device) -> tuple[Any, Queue, dict[str, Any]]:
    sounddevice = library()
    rate = int(sounddevice.query_devices(number, "output")["default_samplerate"])
    queue = Queue(rate)

    def callback(out: Any, frames: int, clock: Any, _status: Any) -> None:
        queue.fill(out, frames, max(0.0, clock.outputBufferDacTime - clock.currentTime))

    stream = sounddevice.RawOutputStream(
        device=number, samplerate=rate, blocksize=round(rate * _BLOCK), channels=1,
        dtype="int16", latency=_LATENCY, callback=callback,
    )  # fmt: skip
    stream.start()
    end = time.monotonic() + _WAKING
    while queue.calls < _AWAKE_AFTER:
        if time.monotonic() > end:
            raise DeviceError(f"{device.label} takes no sound")
        time.sleep(0.005)
    facts = {"name": device.name, "host": device.host, "label": device.label, "rate": rate,
             "latency": stream.latency}  # fmt: skip
    return stream, queue, facts


def _obey(stdin: BinaryIO, queue: Queue) -> None:
    while (frame := read_frame(stdin)) is not None:
        kind, payload = frame
        if kind is Kind.PLAY:
            queue.add(payload)
        elif kind is Kind.SILENCE:
            queue.drop_last()
        elif kind is Kind.DROP_LAST:
            queue.drop_last(payload[0])
    os._exit(0)  # the parent is gone; closing a stream may hang, ending cannot


def _play(pipe: Pipe, number: int, device: Device) -> Callable[[], str]:
    stream, queue, facts = _open(number, device)
    pipe.write(Kind.READY, json.dumps(facts).encode())
    threading.Thread(target=_obey, args=(pipe.input, queue), daemon=True).start()

    def stopped() -> str:
        if not stream.active or time.monotonic() - queue.called > _STUCK:
            return "the loudspeaker stopped taking sound"
        pipe.write(Kind.STATUS, json.dumps(queue.status()).encode())
        return ""

    return stopped


def main() -> None:
    """Play until the input closes or the device goes away."""
    serve("loudspeaker", capture=False, run=_play)


if __name__ == "__main__":
    main()
