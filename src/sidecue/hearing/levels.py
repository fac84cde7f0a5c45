"""Whether what is said reaches us neither clipped nor too faint; told once for each."""

from __future__ import annotations

from collections import deque

import numpy as np

from sidecue.hearing.conditioning import CLIPPED_AT, FRAME, frame_levels
from sidecue.hearing.port import RATE, Block, Hearing

_KEPT = 8.0  # s looked back: longer than any utterance and its decoding
FAINT = -48.0  # dBFS of the loud frames of what was said; the floor we add lies at -70
STRONG = -8.0
CLIPPED = 0.005  # share of samples at full scale while somebody speaks

CLIPS = "the microphone clips: turn its level down, or move it further from the mouth"
TOO_STRONG = "the microphone's level is too high: turn it down before it clips"
TOO_FAINT = "speech is too faint: turn the microphone's level up, or bring it nearer"


class LevelWatch:
    """Follows a source and what was heard in it. A remark is made when it holds for two
    utterances running, and once only."""

    def __init__(self) -> None:
        self._blocks: deque[Block] = deque()
        self._lasts = 0.0
        self._before = ""
        self._told: set[str] = set()

    def take(self, block: Block) -> None:
        """Keep a block for as long as something said in it may still be judged."""
        if not len(block.samples):
            return
        self._blocks.append(block)
        self._lasts += len(block.samples) / RATE
        while self._lasts > _KEPT:
            self._lasts -= len(self._blocks.popleft().samples) / RATE

    def heard(self, hearing: Hearing) -> str:
        """Return what is to be told after this utterance, or nothing."""
        said = [
            block.samples
            for block in self._blocks
            if block.at < hearing.ended and block.at + len(block.samples) / RATE > hearing.started
        ]
        samples = np.concatenate(said) if said else np.zeros(0, dtype=np.int16)
        if len(samples) < 10 * FRAME:
            return ""
        loud = float(np.percentile(frame_levels(samples), 90))
        clipped = float(np.mean(np.abs(samples.astype(np.int32)) >= CLIPPED_AT))
        remark = ""
        if clipped > CLIPPED:
            remark = CLIPS
        elif loud > STRONG:
            remark = TOO_STRONG
        elif loud < FAINT:
            remark = TOO_FAINT
        again, self._before = remark == self._before, remark
        if not again or not remark or remark in self._told:
            return ""
        self._told.add(remark)
        return remark
