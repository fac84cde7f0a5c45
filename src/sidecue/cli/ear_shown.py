"""What a screen shows of the ears: how loud it is, whether they listen, what they made of it."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from sidecue.board.page import LastHeard
from sidecue.conductor.conducting import Conductor, Exchange
from sidecue.conductor.running import MICROPHONE
from sidecue.hearing.port import AudioSource, Block
from sidecue.session.effects import Refuse
from sidecue.session.events import CueGiven, HearingRefused

_QUIETEST_DB, _LOUDEST_DB, _LEVELS = -60.0, -10.0, 10
_FULL = 32768.0


class Metered:
    """A source of sound that tells how loud its last block was."""

    def __init__(self, source: AudioSource) -> None:
        self._source = source
        self.level = 0

    def blocks(self) -> Iterator[Block]:
        """Yield the source's blocks."""
        for block in self._source.blocks():
            self.level = loudness(block.samples)
            yield block

    def close(self) -> None:
        """Close the source."""
        self._source.close()


def loudness(samples: np.ndarray) -> int:
    """Return how loud 16-bit samples are, from 0 (silence) to 10."""
    if len(samples) == 0:
        return 0
    power = float(np.mean(np.square(samples.astype(np.float64) / _FULL)))
    if power <= 0:
        return 0
    height = (10 * math.log10(power) - _QUIETEST_DB) / (_LOUDEST_DB - _QUIETEST_DB)
    return max(0, min(_LEVELS, round(height * _LEVELS)))


def ear_state(conductor: Conductor, now: float, *, listens: bool) -> str:
    """Return the microphone's state as `Ear` names it; without one it does not listen."""
    if MICROPHONE in conductor.state.lost:
        return "lost"
    if not listens:
        return "none"
    if conductor.speaking(now):
        return "speaking"
    return "held" if conductor.held(now) else "listening"


def last_heard(conductor: Conductor, exchange: Exchange) -> LastHeard | None:
    """Return what was heard and what came of it; None for an event that nobody uttered."""
    event = exchange.event
    if isinstance(event, HearingRefused):
        return LastHeard(event.nearest, event.why, taken=False)
    if not isinstance(event, CueGiven):
        return None
    cues = conductor.machine.cues_now(exchange.before)
    cue = next((each for each in cues if each.id == event.cue), None)
    words = event.phrase or (cue.phrases[0] if cue is not None else "")
    refused = next((each for each in exchange.effects if isinstance(each, Refuse)), None)
    if refused is not None:
        return LastHeard(words, refused.why, taken=False)
    if exchange.after.question is not None and exchange.before.question is None:
        return LastHeard(words, "answer the question")
    return LastHeard(words, _done(event.cue, cue.means if cue is not None else ""))


def _done(cue: str, means: str) -> str:
    if cue.endswith(".done"):
        return "step done"
    return "step begun" if cue.endswith(".begin") else means
