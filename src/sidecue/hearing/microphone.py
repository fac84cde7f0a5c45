"""The microphone: a child that records, chosen by name, watched, opened again when it returns."""

from __future__ import annotations

import json
import time
from collections.abc import Callable, Iterator

import numpy as np

from sidecue.devices.child import Child, ChildGoneError
from sidecue.devices.frames import Kind
from sidecue.devices.naming import Device, DeviceError
from sidecue.devices.naming import choose as choose_by_name
from sidecue.devices.serving import OPENING, START_WITHIN, Request, list_devices
from sidecue.hearing.conditioning import StreamConverter, dbfs
from sidecue.hearing.input_child import STAMP
from sidecue.hearing.port import RATE, AudioError, Block, Samples
from sidecue.hearing.ratewatch import RateWatch

WAIT = 0.1  # s without sound before the reader gets an empty block
LOST_AFTER = 1.2  # s without sound before the device counts as lost
_BEAT_WITHIN = 1.0  # s without a sign of life: the child hangs in the sound library
_ZEROS_PASS = 0.5  # s of digital silence taken for silence: a word before it may end
_ZEROS_FOR = 10.0  # s of digital silence after which a fresh start is tried
_CUT_ABOVE = -45.0  # dBFS: sound that falls to digital silence from here was cut off, not ended
_TOO_OLD = 4.0  # s: what waited longer than this for us is no longer acted on
_CHILD = "sidecue.hearing.input_child"


def input_devices() -> tuple[Device, ...]:
    """All devices that can record. Raises AudioError when the sound library cannot be had."""
    try:
        return list_devices(_CHILD)
    except DeviceError as fault:
        raise AudioError(explain(str(fault))) from fault


def explain(fault: str) -> str:
    """Return what the child said as one line with a way on."""
    if "PortAudio is missing" in fault or "No module named 'sounddevice'" in fault:
        return (
            "live sound needs the PortAudio library: install it (Debian: libportaudio2);"
            " recordings and typed phrases work without it"
        )
    return fault.replace("\n", " ")


def choose(devices: tuple[Device, ...], name: str | None) -> Device:
    """Pick the input named, else the default; a monitor only when named. Raises AudioError."""
    try:
        return choose_by_name(devices, name, "microphone")
    except DeviceError as fault:
        raise AudioError(str(fault)) from fault


class Microphone:
    """A live source. `clock` gives the session's time in seconds; blocks carry it.

    While the device delivers nothing (unplugged, suspended, muted, hanging) the reader gets empty
    blocks every `WAIT`; `lost` turns true after `LOST_AFTER`, and the same device, by name, is
    waited for. It is back when sound arrives, not when it could be opened. Digital silence counts
    as nothing, except from a monitor. `tell` gets, once, what is wrong with the device's rate.
    One thread reads.
    """

    def __init__(
        self,
        name: str | None = None,
        clock: Callable[[], float] = time.monotonic,
        tell: Callable[[str], None] = lambda _: None,
        child_module: str = _CHILD,
    ) -> None:
        """Open the device. Raises AudioError in one line when it cannot be had."""
        self._clock = clock
        self._tell = tell
        self._module = child_module
        self._closed = False
        self._converter = StreamConverter(RATE, 1)
        self._rate = RateWatch(RATE)
        self._told_rate = False
        self._level = -120.0  # of the last sounding block
        self._zeros: float | None = None  # when digital silence began
        self._cut = False  # and it began in the middle of sound
        self.device = choose(input_devices(), name)
        self.why_lost = ""
        self.dropped = 0  # blocks that came too late to act on
        self._child: Child | None = self._start(wait=False)
        self._alive = self._restarted = time.monotonic()
        self._last_sound = time.monotonic()
        frame = self._first()
        if frame is None or frame[0] is not Kind.READY:
            self.close()
            fault = frame[1].decode(errors="replace") if frame else "the sound library hangs"
            raise AudioError(explain(fault))
        self._ready(frame[1])
        self._last_sound = time.monotonic()  # starting took its time

    @property
    def lost(self) -> bool:
        """True while the device has delivered nothing for too long."""
        return time.monotonic() - self._last_sound > LOST_AFTER

    def blocks(self) -> Iterator[Block]:
        """Yield sound as it arrives, and empty blocks while it does not, until closed."""
        while not self._closed:
            samples, at = self._next()
            if self._closed:
                return
            yield Block(self._clock() if at is None else self._session_time(at), samples)

    def close(self) -> None:
        """Stop recording."""
        self._closed = True
        self._drop()

    def _next(self) -> tuple[Samples, float | None]:
        """Return samples and the (monotonic) moment they began; empty and None after `WAIT`."""
        nothing = np.zeros(0, dtype=np.int16)
        child = self._child
        if child is None:
            self._child = self._start(wait=True)
            return nothing, None
        try:
            frame = child.receive(WAIT)
        except ChildGoneError:
            self._lose("the sound library ended")
            return nothing, None
        now = time.monotonic()
        if frame is None:
            starting = self._alive <= self._restarted  # nothing came since it began to open
            patience = START_WITHIN if starting else _BEAT_WITHIN
            if now - self._alive > patience:
                self._lose("the sound library hangs")
            return nothing, None
        self._alive = now
        kind, payload = frame
        if kind is Kind.READY:
            self._ready(payload)
        elif kind is Kind.FAULT:
            self._lose(payload.decode(errors="replace"))
        elif kind is Kind.SOUND:
            return self._sound(payload, now)
        elif payload == OPENING:
            self._restarted = now
        return nothing, None

    def _sound(self, payload: bytes, now: float) -> tuple[Samples, float | None]:
        (ended,) = STAMP.unpack_from(payload)
        raw = np.frombuffer(payload, dtype=np.int16, offset=STAMP.size)
        if now - ended > _TOO_OLD:
            self.dropped += 1
            self._last_sound = now
            return raw[:0], None
        self._check_rate(ended, len(raw) // self._converter.channels)
        samples = self._converter.convert(raw)
        if raw.any() or self.device.monitor:
            self._zeros = None
            self._last_sound = now
            self._level = dbfs(samples[-RATE // 50 :])
        else:
            if self._zeros is None:
                self._zeros = now
                self._cut = self._level > _CUT_ABOVE
            if now - self._zeros > _ZEROS_FOR:
                self._lose("delivers digital silence")
            if self._cut or now - self._zeros > _ZEROS_PASS:
                return samples[:0], None
        return samples, ended - len(samples) / RATE

    def _check_rate(self, ended: float, frames: int) -> None:
        real = self._rate.take(ended, frames)
        if real is None or self._told_rate:
            return
        self._told_rate = True
        says = self._converter.rate
        self._converter = StreamConverter(real, self._converter.channels)
        self._tell(
            f"microphone {self.device.label} says {says} Hz and delivers {real} a second;"
            f" taken as {real} Hz. Set its rate right in the sound settings"
        )

    def _session_time(self, at: float) -> float:
        return self._clock() - (time.monotonic() - at)

    def _ready(self, payload: bytes) -> None:
        facts = json.loads(payload)
        self._converter = StreamConverter(facts["rate"], facts["channels"])
        self._rate = RateWatch(facts["rate"])
        self._told_rate = False
        self._zeros, self._cut = None, False
        self.why_lost = ""

    def _first(self) -> tuple[Kind, bytes] | None:
        child = self._child
        assert child is not None
        try:
            return child.receive(START_WITHIN)
        except ChildGoneError:
            return Kind.FAULT, b"the sound library ended while starting"

    def _start(self, *, wait: bool) -> Child:
        self._restarted = self._alive = time.monotonic()
        return Child(self._module, Request(self.device.name, self.device.host, wait).argument())

    def _lose(self, why: str) -> None:
        self.why_lost = why
        self._drop()
        if not self._closed:
            self._child = self._start(wait=True)

    def _drop(self) -> None:
        child, self._child = self._child, None
        if child is not None:
            child.kill()
