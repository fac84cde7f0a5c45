"""An engine whose own confidence cannot be tuned, for measuring: what it decides, and no more."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from sidecue.hearing.port import Hearing, Recogniser, Samples, Vocabulary
from sidecue.procedure.plan import Tier

#: Between what was decided (1) and what was not (0).
DECIDED: Mapping[Tier, float] = dict.fromkeys(Tier, 0.5)


class AsDecided:
    """A cue that was accepted is sure, any other is none. Satisfies `Recogniser`."""

    def __init__(self, engine: Recogniser) -> None:
        self._engine = engine
        self.name = engine.name

    def unknown_words(self, vocabulary: Vocabulary) -> tuple[str, ...]:
        """Return the words that the engine's lexicon lacks."""
        return self._engine.unknown_words(vocabulary)

    def hear(self, samples: Samples, started: float, vocabulary: Vocabulary) -> Hearing:
        """Judge one utterance as the engine does."""
        found = self._engine.hear(samples, started, vocabulary)
        if found.cue is None:
            return replace(found, tier=None, score=0.0)
        return replace(found, score=1.0)

    def close(self) -> None:
        """Release the engine."""
        self._engine.close()
