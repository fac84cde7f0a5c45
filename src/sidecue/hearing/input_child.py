"""The child that records: one PortAudio input stream by name, its blocks written to a pipe.

Run by `Microphone`. A SOUND frame holds the moment of its last sample (monotonic clock, a double)
and int16 samples, channels interleaved, as the device gives them.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import struct
import threading
import time
from collections.abc import Callable
from typing import Any

from sidecue.devices.frames import Kind
from sidecue.devices.naming import Device, DeviceError
from sidecue.devices.portaudio import library
from sidecue.devices.serving import BEAT, Pipe, serve

BLOCK_SECONDS = 0.05
STAMP = struct.Struct("<d")
_STUCK = 0.8  # s without a callback: the device is gone
_WAKING = 3.0  # s a sleeping device may take to its first
_RATES = (16_000, 48_000, 44_100, 32_000, 96_000, 22_050, 8_000)
_QUEUED = 100  # blocks the parent may be behind, 5 s


def main() -> None:
    """Record until the parent is gone or the device is."""
    serve("microphone", capture=True, run=_record)


def _record(pipe: Pipe, number: int, device: Device) -> Callable[[], str]:
    blocks: queue.Queue[bytes] = queue.Queue(maxsize=_QUEUED)
    called = time.monotonic() + _WAKING - _STUCK

    def callback(data: Any, _frames: int, _time: Any, _status: Any) -> None:
        nonlocal called
        called = time.monotonic()
        # A parent that is stuck would find what it has not taken too old to act on.
        with contextlib.suppress(queue.Full):
            blocks.put_nowait(STAMP.pack(called) + bytes(data))  # the buffer is used again

    stream, rate, channels = _open(number, device, callback)
    facts = {"rate": rate, "channels": channels, "name": device.name, "host": device.host,
             "label": device.label, "monitor": device.monitor}  # fmt: skip
    pipe.write(Kind.READY, json.dumps(facts).encode())
    threading.Thread(target=_pass_on, args=(blocks, pipe), daemon=True).start()
    threading.Thread(target=_end_with_parent, args=(pipe,), daemon=True).start()

    def stopped() -> str:
        if stream.active and time.monotonic() - called < _STUCK:
            return ""
        return "delivers nothing"

    return stopped


def _open(number: int, device: Device, callback: Callable[..., None]) -> tuple[Any, int, int]:
    """Open with the first rate and channel count the device takes, ours if it can."""
    sounddevice = library()
    problem = "no rate fits"
    for rate in dict.fromkeys((_RATES[0], device.rate, *_RATES)):
        for channels in dict.fromkeys((1, min(2, device.channels), device.channels)):
            try:
                stream = sounddevice.RawInputStream(
                    samplerate=rate,
                    blocksize=round(rate * BLOCK_SECONDS),
                    device=number,
                    channels=channels,
                    dtype="int16",  # PortAudio converts from whatever the device has
                    callback=callback,
                )
                stream.start()
            except (sounddevice.PortAudioError, ValueError) as fault:
                problem = str(fault)
                continue
            return stream, rate, channels
    raise DeviceError(f"microphone {device.label} cannot be opened: {problem}")


def _pass_on(blocks: queue.Queue[bytes], pipe: Pipe) -> None:
    while True:
        try:
            pipe.write(Kind.SOUND, blocks.get(timeout=BEAT))
        except queue.Empty:
            pipe.write(Kind.STATUS)


def _end_with_parent(pipe: Pipe) -> None:
    pipe.input.read()
    os._exit(0)


if __name__ == "__main__":
    main()
