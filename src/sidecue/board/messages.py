"""What a screen may ask for, read strictly: anything else is one clear line, and nothing done."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from typing import Any

from sidecue.session.events import Source

_CUE = re.compile(r"[a-z0-9]+(?:[.:-][A-Za-z0-9:.-]+)*")
_LONGEST = 200
_BY = {"key": Source.KEY, "pedal": Source.PEDAL, "touch": Source.BOARD}


class BadMessage(ValueError):  # noqa: N818 - what a screen is told
    """A message that cannot be read."""


@dataclass(frozen=True, slots=True)
class Ask:
    """A cue asked for on the page that had `scene`."""

    cue: str
    source: Source
    scene: str


def read_ask(body: bytes) -> Ask:
    """Return what was asked. Raises BadMessage."""
    data = read_object(body)
    if set(data) != {"cue", "by", "scene"}:
        raise BadMessage("give cue, by and scene")
    cue, by, scene = data["cue"], data["by"], data["scene"]
    if not all(isinstance(each, str) and len(each) <= _LONGEST for each in (cue, by, scene)):
        raise BadMessage("cue, by and scene are short texts")
    if not _CUE.fullmatch(cue):
        raise BadMessage("that is no cue")
    if by not in _BY:
        raise BadMessage(f"by is one of {', '.join(_BY)}")
    return Ask(cue, _BY[by], scene)


def read_talk(body: bytes) -> bool:
    """Return whether the pedal is held down to talk. Raises BadMessage."""
    data = read_object(body)
    if set(data) != {"held"} or not isinstance(data["held"], bool):
        raise BadMessage("give held: true or false")
    return data["held"]


def read_code(body: bytes) -> str:
    """Return the pairing code that was typed, its digits alone. Raises BadMessage."""
    data = read_object(body)
    code = data.get("code")
    if set(data) != {"code"} or not isinstance(code, str) or len(code) > _LONGEST:
        raise BadMessage("give the code")
    return "".join(each for each in code if each in "0123456789")


def read_object(body: bytes) -> dict[str, Any]:
    """Return the JSON object in `body`. Raises BadMessage."""
    try:
        data = json.loads(body)
    except (ValueError, RecursionError):
        raise BadMessage("this is not JSON") from None
    if not isinstance(data, dict):
        raise BadMessage("this is not a JSON object")
    return data
