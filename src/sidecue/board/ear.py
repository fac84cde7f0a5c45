"""The microphone as the screens show it."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Ear:
    """The microphone, and how loud it is, in steps from 0 to 10. Its states: `listening`,
    `speaking` (only stopping words count), `held` (a pedal is held to talk: no address is needed),
    `lost`, `none`."""

    state: str = "none"
    level: int = 0
