"""The sound server of a Linux desktop (PulseAudio, or PipeWire in its place): names and losses.

PortAudio reaches the server through one device called "pulse" that hides which microphone is
behind it: a loudspeaker's monitor, for one. The server itself tells. Where there is no server or
no client library, `reach` gives None and PortAudio's own names stand.
"""

from __future__ import annotations

import os
from contextlib import suppress
from typing import Any

from sidecue.devices.naming import Device

HOST = "sound server"
#: What the server puts there while no output is plugged in.
_DUMMY = "auto_null"


class ServerGoneError(Exception):
    """The server does not answer any more."""


def reach() -> SoundServer | None:
    """Return the user's sound server, None where none runs. Starts none."""
    try:
        import pulsectl
    except (ImportError, OSError):  # not installed, or without the server's client library
        return None
    client = pulsectl.Pulse("sidecue", connect=False)
    try:
        client.connect(autospawn=False, wait=False)
    except pulsectl.PulseError:
        client.close()
        return None
    return SoundServer(client, pulsectl.PulseError)


class SoundServer:
    """A connection to the server. One thread owns it."""

    def __init__(self, client: Any, fault: type[Exception]) -> None:
        self._client = client
        self._fault = fault
        self._listening = False

    def devices(self, *, capture: bool) -> tuple[Device, ...]:
        """The inputs (`capture`) or outputs. Raises ServerGoneError."""
        try:
            info = self._client.server_info()
            entries = self._client.source_list() if capture else self._client.sink_list()
        except self._fault as error:
            raise ServerGoneError(str(error)) from error
        default = info.default_source_name if capture else info.default_sink_name
        return tuple(
            Device(
                name=entry.name,
                host=HOST,
                channels=int(entry.channel_count),
                rate=int(entry.sample_spec.rate),
                monitor=capture and bool(entry.monitor_of_sink_name),
                default=entry.name == default,
                called=str(entry.description or ""),
                dummy=entry.name.startswith(_DUMMY),
            )
            for entry in entries
        )

    def ready(self, name: str, *, capture: bool) -> bool:
        """Whether the device called `name` is there, sounding and awake."""
        entry = self._entry(name, capture)
        return entry is not None and not _still(entry) and entry.state != "suspended"

    def there(self, name: str, *, capture: bool) -> bool:
        """Whether it is there and not muted; it may be asleep."""
        entry = self._entry(name, capture)
        return entry is not None and not _still(entry)

    def trouble(self, name: str, *, capture: bool) -> str:
        """Why this process's own stream no longer runs on the device called `name`, or empty."""
        entry = self._entry(name, capture)
        if entry is None:
            return "went away"
        if still := _still(entry):
            return still
        if entry.state == "suspended":
            return "is suspended"
        try:
            client = self._client
            streams = client.source_output_list() if capture else client.sink_input_list()
        except self._fault as error:
            raise ServerGoneError(str(error)) from error
        for stream in streams:
            if stream.proplist.get("application.process.id") == str(os.getpid()):
                # The server moves streams of a device that went away to whatever is left.
                if (stream.source if capture else stream.sink) != entry.index:
                    return "went away"
                if stream.mute:
                    return "is muted"
        return ""

    def wait(self, seconds: float) -> None:
        """Return when any device or stream changed, at the latest after `seconds`."""
        client = self._client
        try:
            if not self._listening:
                client.event_mask_set("source", "sink", "source_output", "sink_input")
                client.event_callback_set(lambda _event: client.event_listen_stop())
                self._listening = True
            client.event_listen(timeout=seconds)
        except self._fault as error:
            raise ServerGoneError(str(error)) from error

    def close(self) -> None:
        """Leave the server."""
        with suppress(self._fault):
            self._client.close()

    def _entry(self, name: str, capture: bool) -> Any:
        try:
            entries = self._client.source_list() if capture else self._client.sink_list()
        except self._fault as error:
            raise ServerGoneError(str(error)) from error
        return next((entry for entry in entries if entry.name == name), None)


def _still(entry: Any) -> str:
    if entry.mute:
        return "is muted"
    return "is turned down to nothing" if entry.volume.value_flat == 0 else ""
