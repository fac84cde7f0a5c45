"""Devices by name, never by number: numbers change whenever something is plugged in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


class DeviceError(Exception):
    """A device cannot be had; the message is one line saying why and how to mend it."""


@dataclass(frozen=True, slots=True)
class Device:
    """A sound device. `name` stays the same when it is unplugged and plugged in again."""

    name: str
    host: str  # the sound system: ALSA, Core Audio, or the sound server
    channels: int
    rate: int  # the device's own, Hz
    monitor: bool  # an input that records what a loudspeaker plays
    default: bool
    called: str = ""  # what the sound server's own screens call it
    dummy: bool = False  # an output into nothing, put there because there is no other

    @property
    def label(self) -> str:
        """Both names, for a list."""
        return f"{self.name} ({self.called})" if self.called else self.name

    def fits(self, part: str) -> bool:
        """Whether `part` occurs in one of the names, capitals aside."""
        return part.lower() in self.name.lower() or part.lower() in self.called.lower()


def choose(devices: Iterable[Device], name: str | None, what: str = "microphone") -> Device:
    """Pick a device: the one named (whole name, else a part that fits one), else the default.

    A loudspeaker's monitor, and an output into nothing, are only taken when named. Raises
    DeviceError listing what there is.
    """
    devices = tuple(devices)
    if name:
        exact = [device for device in devices if name in (device.name, device.called)]
        fitting = exact or [device for device in devices if device.fits(name)]
        if len({device.name for device in fitting}) == 1:
            return fitting[0]
        how = f"fits several {what}s" if fitting else "is not there"
        raise DeviceError(f"{what} {name!r} {how}; there are: {listed(fitting or devices)}")
    real = [device for device in devices if not device.monitor and not device.dummy]
    preferred = [device for device in real if device.default] or real
    if preferred:
        return preferred[0]
    why = "none is there"
    if devices:
        kind = "monitors of loudspeakers" if what == "microphone" else "outputs into nothing"
        why = f"only {kind} are there ({listed(devices)})"
    raise DeviceError(f"no {what}: {why}; plug one in, or name one")


def listed(devices: Iterable[Device]) -> str:
    """Return the names, each once, in order."""
    return "; ".join(sorted({device.label for device in devices})) or "none"
