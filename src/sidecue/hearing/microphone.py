"""The microphone, through PortAudio: chosen by name, watched, opened again when it returns."""

from __future__ import annotations

import queue
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sidecue.hearing.conditioning import StreamConverter
from sidecue.hearing.port import AudioError, Block

BLOCK_SECONDS = 0.05
WAIT = 0.25  # seconds without sound before the reader gets an empty block
LOST_AFTER = 1.5  # seconds without sound before the device counts as lost
RETRY_EVERY = 1.5
_QUEUED = 200  # blocks kept while the reader is busy, 10 s

_MONITOR_WORDS = ("monitor",)
_RATES = (16_000, 48_000, 44_100, 32_000, 8_000)


@dataclass(frozen=True, slots=True)
class Device:
    """An input device as PortAudio names it."""

    name: str
    host: str  # the sound system: ALSA, PulseAudio, Core Audio ...
    channels: int
    rate: int  # the device's own, Hz
    monitor: bool  # records what a loudspeaker plays
    default: bool


def portaudio() -> Any:
    """The sounddevice module. Raises AudioError naming what to install when it cannot load."""
    try:
        import sounddevice
    except OSError as fault:
        raise AudioError(
            "live sound needs the PortAudio library: install it (Debian: libportaudio2);"
            " recordings and typed phrases work without it"
        ) from fault
    return sounddevice


def refresh() -> None:
    """Read the device list anew; PortAudio freezes it at start. Only with all streams closed."""
    library = portaudio()
    library._terminate()
    library._initialize()


def input_devices() -> tuple[Device, ...]:
    """All devices that can record. Raises AudioError without PortAudio."""
    library = portaudio()
    hosts = library.query_hostapis()
    chosen = library.default.device[0]
    return tuple(
        Device(
            name=str(entry["name"]),
            host=str(hosts[entry["hostapi"]]["name"]),
            channels=int(entry["max_input_channels"]),
            rate=round(entry["default_samplerate"]),
            monitor=any(word in str(entry["name"]).lower() for word in _MONITOR_WORDS),
            default=entry["index"] == chosen,
        )
        for entry in library.query_devices()
        if entry["max_input_channels"] > 0
    )


def choose(devices: tuple[Device, ...], name: str | None) -> Device:
    """Pick a device: the one named (whole name, else a part that fits one), else the default.

    A monitor of a loudspeaker is only taken when named. Raises AudioError listing what there is.
    """
    if name is not None:
        exact = [device for device in devices if device.name == name]
        fitting = exact or [device for device in devices if name.lower() in device.name.lower()]
        if len({device.name for device in fitting}) == 1:
            return fitting[0]
        listed = "; ".join(sorted({device.name for device in fitting or devices})) or "none"
        how = "fits several microphones" if fitting else "is not there"
        raise AudioError(f"microphone {name!r} {how}; there are: {listed}")
    real = [device for device in devices if not device.monitor]
    preferred = [device for device in real if device.default] or real
    if not preferred:
        heard = "; ".join(sorted({device.name for device in devices}))
        only = f"only monitors of loudspeakers are there ({heard})" if heard else "none is there"
        raise AudioError(f"no microphone: {only}; plug one in, or name one")
    return preferred[0]


class Microphone:
    """A live source. `clock` gives the session's time in seconds; blocks carry it.

    When the device delivers nothing the reader gets empty blocks at `WAIT` intervals; `lost`
    turns true after `LOST_AFTER`, and the device is looked for again by name every `RETRY_EVERY`.
    It is back when sound arrives, not when it could be opened.
    """

    def __init__(
        self, name: str | None = None, clock: Callable[[], float] = time.monotonic
    ) -> None:
        """Open the device. Raises AudioError in one line when it cannot be had."""
        self._wanted = name
        self._clock = clock
        self._stream: Any = None
        self._blocks: queue.Queue[tuple[float, bytes]] = queue.Queue(maxsize=_QUEUED)
        self._converter: StreamConverter | None = None
        self._closed = False
        self._last_sound = clock()
        self._next_try = 0.0
        self.overflows = 0
        self.device = self._open()
        self._wanted = self.device.name

    @property
    def lost(self) -> bool:
        """True while the device has delivered nothing for too long."""
        return self._stream is None or self._clock() - self._last_sound > LOST_AFTER

    def blocks(self) -> Iterator[Block]:
        """Yield sound as it arrives, and empty blocks while it does not, until closed."""
        while not self._closed:
            try:
                at, data = self._blocks.get(timeout=WAIT)
            except queue.Empty:
                if not self._closed:
                    self._recover()
                    yield Block(self._clock(), np.zeros(0, dtype=np.int16))
                continue
            self._last_sound = self._clock()
            converter = self._converter
            if converter is not None:
                samples = converter.convert(np.frombuffer(data, dtype=np.int16))
                yield Block(at, samples)

    def close(self) -> None:
        """Stop recording."""
        self._closed = True
        self._drop_stream()

    def _open(self) -> Device:
        library = portaudio()
        device = choose(input_devices(), self._wanted)
        channels = min(2, device.channels)
        problem = "no rate fits"
        for rate in dict.fromkeys((*_RATES[:1], device.rate, *_RATES)):
            try:
                stream = library.RawInputStream(
                    samplerate=rate,
                    blocksize=round(rate * BLOCK_SECONDS),
                    device=self._index_of(library, device),
                    channels=channels,
                    dtype="int16",
                    callback=self._take,
                )
                stream.start()
            except (library.PortAudioError, ValueError) as fault:
                problem = str(fault)
                continue
            self._converter = StreamConverter(rate, channels)
            self._stream = stream
            return device
        raise AudioError(f"microphone {device.name!r} cannot be opened: {problem}")

    @staticmethod
    def _index_of(library: Any, device: Device) -> int:
        """Today's index of a named device; it changes when anything is plugged in."""
        hosts = library.query_hostapis()
        for entry in library.query_devices():
            host = hosts[entry["hostapi"]]["name"]
            if (entry["name"], host) == (device.name, device.host) and entry["max_input_channels"]:
                return int(entry["index"])
        raise AudioError(f"microphone {device.name!r} went away")

    def _take(self, data: Any, frames: int, _time: Any, status: Any) -> None:
        """PortAudio's thread: copy (its buffer is used again) and leave."""
        if status:
            self.overflows += 1
        lasts = frames * BLOCK_SECONDS / max(1, round(self._rate * BLOCK_SECONDS))
        with_time = (self._clock() - lasts, bytes(data))
        try:
            self._blocks.put_nowait(with_time)
        except queue.Full:
            self.overflows += 1

    @property
    def _rate(self) -> float:
        return float(self._stream.samplerate) if self._stream is not None else 16_000.0

    def _recover(self) -> None:
        now = self._clock()
        if not self.lost or now < self._next_try:
            return
        self._next_try = now + RETRY_EVERY
        self._drop_stream()
        try:
            refresh()
            self._open()
        except AudioError:
            return

    def _drop_stream(self) -> None:
        stream, self._stream = self._stream, None
        if stream is not None:
            library = portaudio()
            try:
                stream.abort()
                stream.close()
            except library.PortAudioError:
                return
