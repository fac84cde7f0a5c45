"""What every recogniser promises; each engine's test subclasses it."""

from __future__ import annotations

import numpy as np

from sidecue.hearing.port import Hearing, Vocabulary
from sidecue.procedure.plan import Tier


class RecogniserContract:
    """Subclasses give a vocabulary, and `say`: one phrase through the engine."""

    ADVANCE: str  # phrase of an advance-tier cue in the vocabulary
    STOP: str  # phrase of a stop-tier cue
    FOREIGN: str  # something the vocabulary does not hold

    def vocabulary(self, **changes: object) -> Vocabulary:
        raise NotImplementedError

    def say(self, phrase: str, vocabulary: Vocabulary) -> Hearing:
        raise NotImplementedError

    def addressed(self, phrase: str) -> str:
        return f"{self.vocabulary().address} {phrase}"

    def test_an_addressed_cue_is_heard(self) -> None:
        hearing = self.say(self.addressed(self.ADVANCE), self.vocabulary())
        assert (hearing.cue, hearing.why) == (self.ADVANCE.replace(" ", "-"), "accepted")
        assert hearing.tier is Tier.ADVANCE
        assert 0 < hearing.score <= 1
        assert hearing.phrase == self.ADVANCE

    def test_a_cue_without_the_address_is_refused(self) -> None:
        hearing = self.say(self.ADVANCE, self.vocabulary())
        assert hearing.cue is None
        assert "without" in hearing.why

    def test_in_a_reply_window_the_address_is_not_needed(self) -> None:
        hearing = self.say(self.ADVANCE, self.vocabulary(bare=True))
        assert hearing.cue == self.ADVANCE.replace(" ", "-")

    def test_a_stop_word_needs_no_address(self) -> None:
        hearing = self.say(self.STOP, self.vocabulary())
        assert (hearing.cue, hearing.tier) == (self.STOP.replace(" ", "-"), Tier.STOP)

    def test_while_the_tool_speaks_only_stop_words_count(self) -> None:
        speaking = self.vocabulary(stop_only=True)
        assert self.say(self.STOP, speaking).cue == self.STOP.replace(" ", "-")
        refused = self.say(self.addressed(self.ADVANCE), speaking)
        assert refused.cue is None
        assert refused.why != "accepted"

    def test_other_talk_does_nothing_and_says_why(self) -> None:
        hearing = self.say(self.FOREIGN, self.vocabulary())
        assert hearing.cue is None
        assert "nothing is done" in hearing.why

    def test_times_are_kept(self) -> None:
        hearing = self.say(self.addressed(self.ADVANCE), self.vocabulary())
        assert hearing.started == 12.5
        assert hearing.ended > hearing.started


RNG = np.random.default_rng(5)


def noise(seconds: float, level: float = 300.0) -> np.ndarray:
    """White noise, int16."""
    return RNG.normal(0, level, round(seconds * 16_000)).astype(np.int16)
