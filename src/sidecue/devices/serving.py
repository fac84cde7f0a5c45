"""What the helper processes of microphone and loudspeaker have in common.

Each is run as `python -m MODULE JSON`: `{"list": true}` prints the devices and ends, else
`{"name": ..., "host": ..., "wait": ...}` opens one. A lost device is waited for with `wait`: its
name and sound system are known, so nothing else is ever taken in its place.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import BinaryIO

from sidecue.devices import soundserver
from sidecue.devices.child import Child, ChildGoneError
from sidecue.devices.frames import Kind, write_frame
from sidecue.devices.naming import Device, DeviceError, choose
from sidecue.devices.portaudio import devices, place

START_WITHIN = 20.0  # s a helper may take to start on a busy machine
BEAT = 0.25  # s between signs of life
OPENING = b"opening"  # with a sign of life: the next may take as long as a start
_LOOK = 0.4  # s between looks for a device that is away, where nothing tells of its return
_HANGS = (
    2.0  # s a look at the sound server may take: its client may wait for ever for one that died
)
_ASLEEP = 5.0  # s after which a device that stays asleep is tried all the same


@dataclass(frozen=True, slots=True)
class Request:
    """What the helper is to open. `name` empty: the system's own choice."""

    name: str = ""
    host: str = ""
    wait: bool = False

    def argument(self) -> str:
        """The command line of it."""
        return json.dumps(asdict(self))


def list_devices(module: str) -> tuple[Device, ...]:
    """Return what the helper `module` can open now, from a fresh start. Raises DeviceError."""
    child = Child(module, json.dumps({"list": True}))
    try:
        frame = child.receive(START_WITHIN)
    except ChildGoneError:
        frame = (Kind.FAULT, b"the sound library ended while starting")
    finally:
        child.kill()
    if frame is None:
        raise DeviceError("the sound library hangs; restart the sound server, then try again")
    if frame[0] is not Kind.READY:
        raise DeviceError(frame[1].decode(errors="replace"))
    return tuple(Device(**entry) for entry in json.loads(frame[1]))


class Pipe:
    """The way to the parent. Any thread may write."""

    def __init__(self) -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)  # the parent decides when we end
        self._out = os.fdopen(os.dup(1), "wb")
        os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # libraries print; the pipe is for frames
        self._lock = threading.Lock()
        self.input: BinaryIO = sys.stdin.buffer

    def write(self, kind: Kind, payload: bytes = b"") -> None:
        """Write a frame; end this process when the parent is gone."""
        try:
            with self._lock:
                write_frame(self._out, kind, payload)
        except OSError:
            os._exit(0)

    def fail(self, why: str) -> None:
        """Tell why, and end: closing a stream may hang, ending cannot."""
        self.write(Kind.FAULT, why.encode())
        os._exit(1)


class _Watchdog:
    """Ends this process when the thread that looks at the sound server gets no answer from it."""

    def __init__(self, pipe: Pipe) -> None:
        self._pipe = pipe
        self._until = float("inf")
        threading.Thread(target=self._watch, daemon=True).start()

    def looking(self) -> None:
        """A new look begins; the last one ended."""
        self._until = time.monotonic() + _HANGS

    def rest(self) -> None:
        """No look for now."""
        self._until = float("inf")

    def _watch(self) -> None:
        while True:
            time.sleep(BEAT)
            if time.monotonic() > self._until:
                self._pipe.fail("the sound server hangs")


def serve(
    what: str, *, capture: bool, run: Callable[[Pipe, int, Device], Callable[[], str]]
) -> None:
    """Be the helper. `run` opens device number so-and-so, tells READY, and returns a function
    that says why the stream has stopped, or nothing."""
    pipe = Pipe()
    asked = json.loads(sys.argv[1]) if len(sys.argv) > 1 else {}
    try:
        if asked.get("list"):
            found = [asdict(device) for device in devices(capture=capture)]
            pipe.write(Kind.READY, json.dumps(found).encode())
            return
        request, watchdog = Request(**asked), _Watchdog(pipe)

        def beat() -> None:
            watchdog.looking()
            pipe.write(Kind.STATUS)

        if request.wait:
            _await(request, capture, beat)
            watchdog.rest()
            pipe.write(Kind.STATUS, OPENING)
        device = _wanted(request, what, capture)
        stopped = run(pipe, place(device, capture=capture), device)
    except Exception as error:  # noqa: BLE001  whatever is missing, the parent has to be told
        told = str(error) if isinstance(error, DeviceError) else f"{type(error).__name__}: {error}"
        pipe.fail(told)
    else:
        pipe.fail(_follow(device, capture, stopped, watchdog.looking))


def _wanted(request: Request, what: str, capture: bool) -> Device:
    there = devices(capture=capture)
    if not request.host:
        return choose(there, request.name or None, what)
    for device in there:
        if (device.name, device.host) == (request.name, request.host):
            return device
    raise DeviceError(f"{what} {request.name!r} is not there")


def _await(request: Request, capture: bool, beat: Callable[[], None]) -> None:
    """Return when the device may be opened again; with `beat` until then."""
    begun = time.monotonic()
    if request.host != soundserver.HOST:
        beat()
        time.sleep(_LOOK)  # whether it is there only a fresh start of the library can tell
        return
    while True:
        beat()
        server = soundserver.reach()
        if server is None:
            time.sleep(_LOOK)
            continue
        try:
            while True:
                patient = time.monotonic() - begun < _ASLEEP
                look = server.ready if patient else server.there
                if look(request.name, capture=capture):
                    return
                beat()
                server.wait(BEAT)
        except soundserver.ServerGoneError:
            time.sleep(_LOOK)
        finally:
            server.close()


def _follow(
    device: Device, capture: bool, stopped: Callable[[], str], looking: Callable[[], None]
) -> str:
    """Return why the device is lost, once it is. `looking` is told of each round."""
    looking()
    server = soundserver.reach() if device.host == soundserver.HOST else None
    while True:
        looking()
        if why := stopped():
            return why
        if server is None:
            if device.host == soundserver.HOST:
                return "the sound server went away"
            time.sleep(0.1)
            continue
        try:
            if why := server.trouble(device.name, capture=capture):
                return why
            server.wait(0.1)
        except soundserver.ServerGoneError:
            return "the sound server went away"
