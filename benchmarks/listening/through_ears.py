"""A stream through the product's own ears: what was heard, when it was known, at what cost."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from typing import Any

from sidecue.hearing.ears import Ears, VocabularyAt
from sidecue.hearing.port import Block, Hearing, Recogniser


@dataclass(frozen=True)
class Noticed:
    """A hearing, the audio clock when it came, and the processor seconds its block took."""

    hearing: Hearing
    at: float
    took: float

    def row(self) -> dict[str, Any]:
        """For the file."""
        found = asdict(self.hearing)
        found["tier"] = self.hearing.tier.value if self.hearing.tier is not None else None
        found = {k: round(v, 4) if isinstance(v, float) else v for k, v in found.items()}
        return {**found, "at": round(self.at, 3), "took": round(self.took, 4)}


@dataclass(frozen=True)
class Listening:
    """Everything heard in a stream."""

    noticed: tuple[Noticed, ...]
    seconds: float  # of sound
    processor: float  # seconds


def listen(
    recogniser: Recogniser, vocabulary_at: VocabularyAt, blocks: Iterable[Block]
) -> Listening:
    """Run `blocks` through new Ears, one by one, as a microphone would."""
    ears = Ears(recogniser, vocabulary_at)
    noticed: list[Noticed] = []
    now = spent = 0.0
    for block in blocks:
        began = time.process_time()
        heard = ears.take(block)
        took = time.process_time() - began
        now, spent = heard.now, spent + took
        noticed += [Noticed(hearing, now, took) for hearing in heard.hearings]
    return Listening(tuple(noticed), now, spent)
