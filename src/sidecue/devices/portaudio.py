"""PortAudio's devices, joined with the sound server's names. Only for helper processes.

PortAudio reads its list of devices once, when it is loaded, and its close may hang when a device
is gone; so each look, and each device, gets a process of its own.
"""

from __future__ import annotations

import os
from dataclasses import replace
from typing import Any

from sidecue.devices import soundserver
from sidecue.devices.naming import Device, DeviceError

#: PortAudio's device that leads to the sound server; the variable that says where it ends there.
_BRIDGE = "pulse"
_LEADS_TO = {True: "PULSE_SOURCE", False: "PULSE_SINK"}
#: Its other names, which would hide what is behind.
_VEILS = frozenset({_BRIDGE, "default", "sysdefault", "pipewire"})
_MONITOR_WORDS = ("monitor", "stereo mix", "what u hear", "loopback")


def library() -> Any:
    """The sounddevice module. Raises DeviceError naming what to install when it cannot load."""
    try:
        import sounddevice
    except OSError as fault:
        raise DeviceError(
            "PortAudio is missing; install libportaudio2 (Debian, Ubuntu) or portaudio (Fedora,"
            " Homebrew)"
        ) from fault
    return sounddevice


def devices(*, capture: bool) -> tuple[Device, ...]:
    """All inputs (`capture`) or outputs: the sound server's by its names, then PortAudio's own.

    Raises DeviceError without PortAudio.
    """
    own = [entry for _, entry in _own(capture)]
    server = soundserver.reach()
    if server is None:  # then the bridge leads nowhere
        return tuple(entry for entry in own if entry.name != _BRIDGE)
    try:
        served = server.devices(capture=capture)
    except soundserver.ServerGoneError:
        served = ()
    finally:
        server.close()
    if any(entry.name == _BRIDGE for entry in own):
        rest = [entry for entry in own if entry.name not in _VEILS]
        return (*served, *(replace(entry, default=False) for entry in rest))
    # No way to open the server's devices one by one; but what its own choice is, is known.
    monitor = any(device.default and device.monitor for device in served)
    return tuple(
        replace(entry, monitor=entry.monitor or (monitor and entry.name in _VEILS)) for entry in own
    )


def place(device: Device, *, capture: bool) -> int:
    """Return today's number of `device`, for opening it in this process.

    Raises DeviceError when it is gone.
    """
    served = device.host == soundserver.HOST
    if served:
        os.environ[_LEADS_TO[capture]] = device.name
    for number, entry in _own(capture):
        same = (entry.name, entry.host) == (device.name, device.host)
        if same or (served and entry.name == _BRIDGE):
            return number
    raise DeviceError(f"{device.label} went away")


def _own(capture: bool) -> list[tuple[int, Device]]:
    sounddevice = library()
    hosts = sounddevice.query_hostapis()
    chosen = sounddevice.default.device[0 if capture else 1]
    side = "max_input_channels" if capture else "max_output_channels"
    return [
        (
            number,
            Device(
                name=str(entry["name"]),
                host=str(hosts[entry["hostapi"]]["name"]),
                channels=int(entry[side]),
                rate=round(entry["default_samplerate"]),
                monitor=capture and any(w in str(entry["name"]).lower() for w in _MONITOR_WORDS),
                default=number == chosen,
            ),
        )
        for number, entry in enumerate(sounddevice.query_devices())
        if entry[side] > 0
    ]
