"""The loudspeaker: PortAudio through a child we own, chosen by name, with a known end."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from time import monotonic

from sidecue.devices.child import Child, ChildGoneError
from sidecue.devices.frames import Kind
from sidecue.devices.naming import Device, DeviceError
from sidecue.devices.serving import START_WITHIN, Request, list_devices
from sidecue.speaking.convert import at_rate
from sidecue.speaking.port import Sound, VoiceError

_CHILD = "sidecue.speaking.output_child"
_BEAT_DEADLINE = 1.0  # s without a status frame: the child hangs in the sound library
_RETRY = 0.2  # s before a lost device is looked for afresh; the look itself waits for it


def explain(fault: str) -> str:
    """Turn what the child said into one line with a mend."""
    if ("PortAudio" in fault and "missing" in fault) or "No module named 'sounddevice'" in fault:
        return f"no sound: {fault}, or run with --mute"
    text = fault.partition("Error: ")[2] or fault
    if text.startswith("no loudspeaker: "):
        return f"{text}, or run with --mute"
    return f"no loudspeaker: {text}; plug one in, choose another by name, or run with --mute"


def output_devices() -> tuple[Device, ...]:
    """The outputs there are now. Raises VoiceError with a mend."""
    try:
        return list_devices(_CHILD)
    except DeviceError as fault:
        raise VoiceError(explain(str(fault))) from fault


class PortAudioLoudspeaker:
    """Plays on the output named `name` (whole or part; empty: the system's own choice).

    When the device goes away, is muted or suspended, `present` turns false and `on_lost` is
    called; sounds then keep their timing in silence. The same device, by name, is waited for
    until it is back: `on_back`. Both are
    called from a thread of this object. `now` is anchored to the machine's monotonic clock at
    each call, so any session clock that runs at real speed will do. Satisfies `Loudspeaker`.
    """

    def __init__(
        self,
        name: str = "",
        on_lost: Callable[[], None] | None = None,
        on_back: Callable[[], None] | None = None,
    ) -> None:
        self._wanted = Request(name)
        self._on_lost = on_lost or (lambda: None)
        self._on_back = on_back or (lambda: None)
        self._lock = threading.Lock()
        self._sent = 0  # commands given to this child
        self._clear_at = 0.0  # monotonic time at which all sound will have been heard
        self._ends: list[float] = []  # the same for each sound queued, by our own count
        self._closing = threading.Event()
        self.name = ""  # the device in use
        self.rate = 0
        self.latency = 0.0  # s from a sample being taken to its being heard
        self.present = False
        self._child: Child | None = None
        self._starting: Child | None = None
        self._child = self._start()
        self.present = True
        self._watcher = threading.Thread(target=self._watch, name="loudspeaker", daemon=True)
        self._watcher.start()

    def play(self, sound: Sound, now: float) -> float:
        """Queue `sound`; return when it will have been heard to the end."""
        with self._lock:
            samples = at_rate(sound, self.rate).astype("<i2").tobytes()
            self._send(Kind.PLAY, samples)
            at = monotonic()
            self._clear_at = max(self._clear_at, at + self.latency) + sound.lasts
            self._ends = [*(end for end in self._ends if end > at), self._clear_at]
            return now + self._clear_at - at

    def silence(self, now: float) -> None:
        """Stop within one block and the device's latency; drop what is queued."""
        with self._lock:
            self._send(Kind.SILENCE)
            self._clear_at = min(self._clear_at, monotonic() + self.latency)
            self._ends = []

    def drop_last(self, count: int, now: float) -> None:
        """Drop the `count` sounds queued last; one of them that has begun is cut."""
        with self._lock:
            self._ends = self._ends[: max(0, len(self._ends) - count)]
            self._send(Kind.DROP_LAST, bytes([min(count, 255)]))
            self._clear_at = self._ends[-1] if self._ends else monotonic() + self.latency

    def busy_until(self, now: float) -> float:
        """When the last sound will have been heard; `now` when none plays."""
        with self._lock:
            return now + max(0.0, self._clear_at - monotonic())

    def close(self) -> None:
        """Release the device. Safe to call twice."""
        self._closing.set()
        with self._lock:
            child, self._child, self.present = self._child, None, False
            starting = self._starting
        for each in (child, starting):
            if each is not None:
                each.kill()
        self._watcher.join(timeout=START_WITHIN)

    def _send(self, kind: Kind, payload: bytes = b"") -> None:
        """Give the child a command, if there is one; a lost device is the watcher's business."""
        if self._child is None or not self.present:
            return
        try:
            self._child.send(kind, payload)
            self._sent += 1
        except ChildGoneError:
            pass

    def _start(self) -> Child:
        """Return a child with the device open. Raises VoiceError."""
        child = Child(_CHILD, self._wanted.argument())
        self._starting = child
        try:
            frame = child.receive(START_WITHIN)
            while frame is not None and frame[0] is Kind.STATUS:  # it waits for the device
                frame = child.receive(START_WITHIN)
        except ChildGoneError:
            frame = (Kind.FAULT, b"the sound library ended while starting")
        if frame is None or frame[0] is not Kind.READY:
            child.kill()
            fault = frame[1].decode(errors="replace") if frame else "the sound library hangs"
            raise VoiceError(explain(fault))
        facts = json.loads(frame[1])
        self.name, self.rate, self.latency = facts["label"], facts["rate"], facts["latency"]
        self._wanted = Request(facts["name"], facts["host"], wait=True)
        return child

    def _watch(self) -> None:
        while not self._closing.is_set():
            self._follow()
            if self._closing.is_set():
                return
            self._lose()
            while not self._look():
                if self._closing.wait(_RETRY):
                    return
            self._on_back()

    def _follow(self) -> None:
        """Read status frames until the device or the child is gone."""
        child = self._child
        while child is not None:
            try:
                frame = child.receive(_BEAT_DEADLINE)
            except ChildGoneError:
                return
            if frame is None or frame[0] is Kind.FAULT:
                return
            status = json.loads(frame[1])
            with self._lock:
                if status["taken"] == self._sent:  # else it doesn't know our latest sound yet
                    self._clear_at = status["clear_at"]

    def _lose(self) -> None:
        with self._lock:
            child, self._child, self.present = self._child, None, False
        if child is not None:
            child.kill()
        self._on_lost()

    def _look(self) -> bool:
        """Try once to open the device again."""
        try:
            child = self._start()
        except VoiceError:
            return False
        with self._lock:
            if self._closing.is_set():
                child.kill()
                return False
            self._sent, self._child, self.present = 0, child, True
            self._clear_at = 0.0
        return True
