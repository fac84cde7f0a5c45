"""Ears: blocks of a source to judged hearings, one recogniser, one thread."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from sidecue.hearing.endpoint import Endpointer, Timing, Utterance
from sidecue.hearing.grammar import active_cues, grammar_of
from sidecue.hearing.port import (
    RATE,
    AudioSource,
    Block,
    FindsTalk,
    Hearing,
    Recogniser,
    Vocabulary,
)
from sidecue.procedure.plan import Tier

VocabularyAt = Callable[[float], Vocabulary | None]


def finder_of(recogniser: Recogniser) -> FindsTalk | None:
    """The engine, where it can tell talk from noise."""
    return recogniser if isinstance(recogniser, FindsTalk) else None


@dataclass(frozen=True, slots=True)
class Heard:
    """Everything one block brought: how far the clock is, and what was heard by then."""

    now: float
    hearings: tuple[Hearing, ...]
    speaking: bool  # somebody is talking now
    arrived: bool  # False for the empty block of a source that delivers nothing


class Ears:
    """Listens to one source.

    `vocabulary_at(seconds)` gives what may be said by an utterance that began then; None while
    nothing should be heard at all. An utterance never yields more than one accepted cue.
    """

    def __init__(
        self,
        recogniser: Recogniser,
        vocabulary_at: VocabularyAt,
        timing: Timing | None = None,
    ) -> None:
        self._recogniser = recogniser
        self._vocabulary_at = vocabulary_at
        self._endpointer = Endpointer(timing, finder_of(recogniser))
        self._tried: Hearing | None = None
        self._now = 0.0

    def listen(self, source: AudioSource) -> Iterator[Heard]:
        """Yield after each block, so that whoever asks can act before the next one is read."""
        for block in source.blocks():
            yield self.take(block)
        rest = [hearing for said in self._endpointer.flush() if (hearing := self._judge(said))]
        yield Heard(self._now, tuple(rest), speaking=False, arrived=True)

    def take(self, block: Block) -> Heard:
        """Take one block in; return what was heard by its end."""
        self._now = max(self._now, block.at + len(block.samples) / RATE)
        if (now := self._vocabulary_at(self._now)) is not None:
            self._endpointer.opening = now.address
            self._endpointer.spotting = now.stop_only
        hearings = []
        for said in self._endpointer.feed(block):
            hearing = self._judge(said)
            if hearing is not None:
                hearings.append(hearing)
        arrived = len(block.samples) > 0
        return Heard(self._now, tuple(hearings), self._endpointer.speaking, arrived)

    def _judge(self, said: Utterance) -> Hearing | None:
        """A hearing to act on, or None while the talker may still be at it."""
        vocabulary = self._vocabulary_at(self._now if said.part else said.started)
        if vocabulary is None:
            return None
        if said.part:
            return self._glimpsed(said, vocabulary)
        if said.same and self._tried is not None:
            hearing = self._tried
        else:
            heard = self._recogniser.hear(said.samples, said.started, vocabulary)
            hearing = replace(heard, ended=said.ended)
        self._tried = None if said.final else hearing
        if said.final:
            return hearing
        if self._may_act_early(hearing, vocabulary):
            self._tried = None
            self._endpointer.drop()
            return hearing
        return None

    def _glimpsed(self, said: Utterance, vocabulary: Vocabulary) -> Hearing | None:
        """A stop word in talk that goes on, such as our own voice."""
        if not vocabulary.stop_only:
            return None
        heard = self._recogniser.hear(said.samples, said.started, vocabulary)
        if heard.cue is None:
            return None
        self._tried = None
        self._endpointer.drop()
        return replace(heard, ended=said.ended)

    @staticmethod
    def _may_act_early(hearing: Hearing, vocabulary: Vocabulary) -> bool:
        """Before the pause is over: only a sure cue that no longer cue begins with."""
        if hearing.cue is None or hearing.tier is Tier.GUARDED:
            return False
        grammar = grammar_of(vocabulary)
        spoken = (hearing.phrase, f"{vocabulary.address} {hearing.phrase}")
        cues = {cue.id for cue in active_cues(vocabulary)}
        return hearing.cue in cues and not any(grammar.extends(text) for text in spoken)
