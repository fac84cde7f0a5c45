"""PocketSphinx held to a grammar built in code: samples in, scored words out.

With all senones computed (`compallsen`), a word's acoustic score is its likelihood against the
best unconstrained senone path of the same frames, so scores compare across utterances.
"""

from __future__ import annotations

import math
from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt
from pocketsphinx import Decoder, get_model_path

from sidecue.hearing.grammar import Grammar
from sidecue.hearing.phones import PHONES
from sidecue.hearing.port import Samples
from sidecue.hearing.pronouncing import inflected, trade_words

WORST = -60.0  # a word's score where its likelihood underflows

_UNIT = 0.1  # alignment scores are integers in base 1.0001: a tenth of ours
_FREE = "free speech"
_GRAMMARS_KEPT = 24
_SETTINGS = {
    "lm": None,
    "bestpath": False,  # its lattice pass accepts partial paths of a grammar
    "compallsen": True,
    "lw": 1.0,
    "wip": 1.0,
    "silprob": 0.3,
    "fillprob": 0.01,
    "loglevel": "FATAL",
}

# Enough for near speech, at half the time of the thorough look.
QUICK: dict[str, Any] = {"beam": 1e-60, "wbeam": 1e-40, "pbeam": 1e-60, "topn": 2}
# In noise the beams of the quick look prune the right path.
THOROUGH: dict[str, Any] = {"beam": 1e-100, "wbeam": 1e-80, "pbeam": 1e-100, "topn": 4}


@dataclass(frozen=True, slots=True)
class Word:
    """A decoded word; `score` is its mean frame score, 0 best (thousandths of the log)."""

    text: str
    start: int  # first frame, 10 ms each
    end: int  # last frame
    score: float

    @property
    def frames(self) -> int:
        """Length in frames."""
        return self.end - self.start + 1


@dataclass(frozen=True, slots=True)
class Decode:
    """The best path through the grammar: its words in order, fillers left out."""

    words: tuple[Word, ...]
    frames: int

    @property
    def text(self) -> str:
        """The decoded words."""
        return " ".join(word.text for word in self.words)

    @property
    def worst(self) -> float:
        """Score of the worst word; WORST for an empty decode."""
        return min((word.score for word in self.words), default=WORST)

    @property
    def mean(self) -> float:
        """Frame-weighted mean score."""
        frames = sum(word.frames for word in self.words)
        return sum(word.score * word.frames for word in self.words) / frames if frames else WORST


def _score(segment: Any) -> float:
    """Mean frame score of a decoded segment."""
    frames = segment.end_frame - segment.start_frame + 1
    likely = segment.ascore
    return max(WORST, 1000 * math.log(likely) / frames) if likely > 0 else WORST


class GrammarDecoder:
    """One decoder, any number of grammars (the latest are kept). One thread owns it."""

    def __init__(self, effort: dict[str, Any], words: Iterable[tuple[str, str]] = ()) -> None:
        """Load the model. `effort` is QUICK or THOROUGH; `words` are known beside the lexicon."""
        self._decoder = Decoder(
            hmm=get_model_path("en-us/en-us"),
            dict=get_model_path("en-us/cmudict-en-us.dict"),
            **_SETTINGS,
            **effort,
        )
        self._spelled: set[tuple[str, str]] = set()
        self._grammars: OrderedDict[Grammar, str] = OrderedDict()
        self._made = 0
        self._phones: dict[str, tuple[str, ...]] = {}
        self._active = ""
        self._has_free = False
        for word, phones in (*words, *trade_words()):
            self.pronounce(word, phones)

    def knows(self, word: str) -> bool:
        """True when the lexicon has `word`, or what was added, or a word it is inflected from."""
        if self._decoder.lookup_word(word) is not None:
            return True
        phones = inflected(word, self.phones)
        if phones:
            self._decoder.add_word(word, " ".join(phones), True)
            self._phones.pop(word, None)
        return bool(phones)

    def phones(self, word: str) -> tuple[str, ...]:
        """The first pronunciation of `word`; empty when unknown."""
        if word not in self._phones:
            self._phones[word] = tuple((self._decoder.lookup_word(word) or "").split())
        return self._phones[word]

    def pronounce(self, word: str, phones: str) -> None:
        """Add a pronunciation (ARPAbet, spaces between) unless this one is there already.

        Raises ValueError naming the word when a phone is not ARPAbet.
        """
        if (word, phones) in self._spelled:
            return
        wrong = [phone for phone in phones.split() if phone not in PHONES]
        if wrong or not phones.split():
            raise ValueError(f"pronunciation of {word!r}: {' '.join(wrong) or 'empty'} is no phone")
        name = word
        for number in range(2, 20):
            if self._decoder.lookup_word(name) is None:
                break
            name = f"{word}({number})"
        self._decoder.add_word(name, phones, True)
        self._phones.pop(word, None)
        self._spelled.add((word, phones))

    def decode(self, samples: Samples, grammar: Grammar) -> Decode:
        """Decode one whole utterance (mono 16 kHz int16) against `grammar`."""
        self._select(grammar)
        self._run(samples)
        frames = len(samples) // 160
        if self._decoder.hyp() is None:
            return Decode((), frames)
        return Decode(tuple(self._words()), frames)

    def phone_scores(self, samples: Samples) -> tuple[tuple[Word, ...], ...]:
        """Phones of each word of the latest `decode` of these samples, scored like words.

        Empty when PocketSphinx cannot align them.
        """
        try:
            self._decoder.set_alignment()
        except RuntimeError:
            return ()
        self._active = ""
        self._run(samples)
        alignment = self._decoder.get_alignment()
        if alignment is None:
            return ()
        return tuple(
            tuple(
                Word(p.name, p.start, p.start + p.duration - 1, _UNIT * p.score / p.duration)
                for p in word
                if p.duration > 0
            )
            for word in alignment
            if not str(word.name).startswith(("<", "["))
        )

    def free_speech(self, samples: Samples) -> npt.NDArray[np.float64]:
        """Score of each frame under any sequence of phones at all: the best that can be had."""
        if not self._has_free:
            self._decoder.add_allphone_file(_FREE, None)
            self._has_free = True
        self._activate(_FREE)
        self._run(samples)
        scores = np.full(len(samples) // 160 + 2, WORST)
        for segment in self._decoder.seg():
            scores[segment.start_frame : segment.end_frame + 1] = _score(segment)
        return scores

    def _run(self, samples: Samples) -> None:
        self._decoder.reinit_feat()  # else the noise it learnt from the last utterance colours this
        self._decoder.start_utt()
        try:
            self._decoder.process_raw(np.ascontiguousarray(samples).tobytes(), full_utt=True)
        finally:
            self._decoder.end_utt()

    def _words(self) -> list[Word]:
        words = []
        for segment in self._decoder.seg():
            text = str(segment.word).split("(")[0]
            if text and not text.startswith(("<", "[")):
                span = segment.start_frame, segment.end_frame
                words.append(Word(text, *span, _score(segment)))
        return words

    def _activate(self, name: str) -> None:
        if self._active != name:  # asking PocketSphinx before any search exists crashes it
            self._decoder.activate_search(name)
            self._active = name

    def _select(self, grammar: Grammar) -> None:
        name = self._grammars.get(grammar)
        if name is None:
            self._made += 1
            name = f"grammar-{self._made}"
            fsg = self._decoder.create_fsg(name, 0, 1, self._transitions(grammar))
            self._decoder.add_fsg(name, fsg)
            self._grammars[grammar] = name
        self._grammars.move_to_end(grammar)
        self._activate(name)
        while len(self._grammars) > _GRAMMARS_KEPT:
            _, old = self._grammars.popitem(last=False)
            self._decoder.remove_search(old)

    def _transitions(self, grammar: Grammar) -> list[tuple[int, int, float, str]]:
        """A prefix tree of words from state 0; every phrase ends in state 1."""
        arcs: list[tuple[int, int, float, str]] = []
        states: dict[tuple[str, ...], int] = {(): 0}
        for text, _ in grammar.paths:
            words = tuple(text.split())
            for depth in range(1, len(words)):
                prefix = words[:depth]
                if prefix not in states:
                    states[prefix] = len(states) + 1
                    arcs.append((states[prefix[:-1]], states[prefix], 1.0, prefix[-1]))
            arcs.append((states[words[:-1]], 1, 1.0, words[-1]))
        return arcs
