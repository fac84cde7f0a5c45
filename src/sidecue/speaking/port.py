"""Mouth: text rendered to samples, samples played with a known end."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

import numpy as np
import numpy.typing as npt


@dataclass(frozen=True, slots=True)
class Sound:
    """Mono int16 samples at `rate` Hz; `text` is what is said, empty for a chime."""

    samples: npt.NDArray[np.int16]
    rate: int
    text: str = ""

    @property
    def lasts(self) -> float:
        """Length in seconds."""
        return len(self.samples) / self.rate


class Voice(Protocol):
    """Renders text."""

    def render(self, text: str) -> Sound:
        """Return `text` as sound. Raises VoiceError with a mend when it cannot in time."""
        ...

    def close(self) -> None:
        """Release the engine. Safe to call twice."""
        ...


class Loudspeaker(Protocol):
    """Plays sounds one after another. `now` is the session's clock in seconds."""

    def play(self, sound: Sound, now: float) -> float:
        """Queue `sound`; return when on the session's clock it will have ended."""
        ...

    def silence(self, now: float) -> None:
        """Stop at once and drop what is queued."""
        ...

    def drop_last(self, count: int, now: float) -> None:
        """Drop the `count` sounds queued last; one of them that has begun is cut short."""
        ...

    def busy_until(self, now: float) -> float:
        """When playback (not synthesis) ends; `now` when nothing plays."""
        ...

    def close(self) -> None:
        """Release the device. Safe to call twice."""
        ...


class VoiceError(Exception):
    """The voice could not speak; the message says why and how to mend it."""
