"""Events to JSON and back, each under a name of its own.

The names are part of the file format: a class may be renamed, its stored name may not. A field
this version does not know is refused rather than dropped, because an event half understood
would replay to another state.
"""

from __future__ import annotations

import json
import math
from dataclasses import fields
from typing import Any, NoReturn

from pydantic import TypeAdapter, ValidationError

from sidecue.record.port import UnreadableEventError
from sidecue.session.events import (
    CueGiven,
    DeviceBack,
    DeviceLost,
    Event,
    HearingRefused,
    Restarted,
    Started,
    TimePassed,
)

NAMES: dict[str, type[Event]] = {
    "started": Started,
    "cue-given": CueGiven,
    "hearing-refused": HearingRefused,
    "time-passed": TimePassed,
    "device-lost": DeviceLost,
    "device-back": DeviceBack,
    "restarted": Restarted,
}

_NAME_OF = {kind: name for name, kind in NAMES.items()}
_ADAPTERS: dict[str, TypeAdapter[Event]] = {name: TypeAdapter(NAMES[name]) for name in NAMES}
_FIELDS = {name: frozenset(field.name for field in fields(NAMES[name])) for name in NAMES}

_UPDATE = "it was written by a newer sidecue; update this one"


def event_to_json(event: Event) -> str:
    """Return `event` as one line of JSON, keys sorted. Raises UnreadableEventError for a time or
    score that is not a finite number, or text that is not Unicode: it could not be read back."""
    body = {field.name: getattr(event, field.name) for field in fields(event)}
    body["type"] = _NAME_OF[type(event)]
    try:
        text = json.dumps(
            body, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
        )
        text.encode()
    except (ValueError, TypeError) as error:
        raise UnreadableEventError(f"{event} cannot be stored: {error}") from error
    return text


def event_from_json(text: str) -> Event:
    """Read one line back. Raises UnreadableEventError saying what is not understood."""
    try:
        body = json.loads(text, parse_constant=_not_finite, parse_float=_finite)
    except ValueError as error:
        raise UnreadableEventError(f"not an event: {error}") from error
    if not isinstance(body, dict):
        raise UnreadableEventError("not an event: no JSON object")
    name = body.pop("type", None)
    if not isinstance(name, str) or name not in NAMES:
        raise UnreadableEventError(f"unknown kind of event {name!r}: {_UPDATE}")
    unknown = sorted(body.keys() - _FIELDS[name])
    if unknown:
        raise UnreadableEventError(f"event {name!r} has an unknown field {unknown[0]!r}: {_UPDATE}")
    return _validated(name, body)


def _validated(name: str, body: dict[str, Any]) -> Event:
    try:
        # JSON text again: only there may strict mode read a source's name as its member.
        return _ADAPTERS[name].validate_json(json.dumps(body), strict=True)
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        where = ".".join(str(part) for part in first["loc"])
        raise UnreadableEventError(f"event {name!r}, {where}: {first['msg']}") from error


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        _not_finite(text)
    return value


def _not_finite(text: str) -> NoReturn:
    raise ValueError(f"{text} is not a finite number")
