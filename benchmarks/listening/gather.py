"""Utterances in training voices through the product's own endpointing: a row of features each."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import Any, TypeVar

import numpy as np

from benchmarks.listening.echo import DISTANCES, Echo, can_echo
from benchmarks.listening.moments import Said, draw, speaking_moment, stop_word
from benchmarks.listening.rooms import GRID
from benchmarks.listening.streams import Condition, Slot, Stream, in_condition, spoken
from benchmarks.listening.voices import TRAINING, Talker, Wave
from benchmarks.phones.corpus import training_crowd
from sidecue.hearing.conditioning import to_mono_16k
from sidecue.hearing.endpoint import Endpointer, Utterance
from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.moonshine import MoonshineRecogniser
from sidecue.hearing.port import FindsTalk, Samples, Vocabulary
from sidecue.hearing.sphinx import SphinxRecogniser
from sidecue.speaking.voice import PyttsVoice

Row = dict[str, Any]

OWN = "own-voice"
OWN_GAINS = (-20.0, 0.0)  # dB, our own voice beside a stop word
# The hand-made near-misses are left to the bench: training spoils cues by rule.
KINDS = ("one-phone", "spoilt", "foreign", "unaddressed", "sentence", "addressed-sentence", OWN)
CUES, OTHERS = 6, 4  # utterances of a stream
CUT_OFF = 0.25  # seconds of its end that an utterance may lack and still be whole
_SPOILERS = ("not", "no", "never", "almost", "still", "half", "un", "nearly", "do not", "the wrong")
# Left out, they change nothing.
_LITTLE = {"a", "all", "and", "are", "at", "has", "in", "is", "it", "of", "that", "the", "to"}

_T = TypeVar("_T")


@dataclass(frozen=True)
class Weighed:
    """What an engine makes of an utterance before it decides."""

    cue: str | None
    tier: str | None
    features: dict[str, float]


Weigh = Callable[[Samples, Vocabulary], Weighed]


def engine(name: str) -> tuple[Weigh, FindsTalk | None]:
    """The engine by `words` or by `phones`, and what finds talk for its endpointing."""
    if name == "words":
        sphinx = SphinxRecogniser()

        def by_words(samples: Samples, vocabulary: Vocabulary) -> Weighed:
            look, _ = sphinx.looks(samples, vocabulary)
            cue = look.path.cue if look.path is not None else None
            return Weighed(look.cue, cue.tier.value if cue else None, look.features)

        return by_words, None
    moonshine = MoonshineRecogniser()

    def by_phones(samples: Samples, vocabulary: Vocabulary) -> Weighed:
        found = moonshine.read(samples, vocabulary)
        if found.cue is None:
            return Weighed(None, None, {})
        return Weighed(found.cue.id, found.cue.tier.value, found.features)

    return by_phones, moonshine


def condition(number: int, rng: np.random.Generator) -> Condition:
    """Training talkers in turn, noises and levels over the grid, a third with an echo."""
    noise, snr = GRID[number * 11 % len(GRID)]
    talker = TRAINING[(number + number // len(TRAINING)) % len(TRAINING)]
    echoes = can_echo() and rng.random() < 1 / 3
    place = Echo(DISTANCES[rng.integers(3)], 700_000 + int(rng.integers(200))) if echoes else None
    return Condition(talker, noise, snr, place)


@lru_cache(maxsize=512)
def own_voice(text: str) -> Wave:
    """`text` in the voice of the tool, peak 0.5."""
    clip = _voice().render(text)
    wave = to_mono_16k(clip.samples, clip.rate).astype(np.float32)
    return np.asarray(wave * (0.5 / np.abs(wave).max()), np.float32)


@cache
def _voice() -> PyttsVoice:
    return PyttsVoice()


def ours(rng: np.random.Generator) -> Said:
    """A sentence of the tool's own, which is no cue."""
    moment = speaking_moment(rng)
    return Said(OWN, moment.says, None, "", moment)


def dry(said: Said, talker: Talker, rng: np.random.Generator) -> Wave:
    """`said` as it leaves the mouth; while the tool speaks, over its own voice."""
    if said.kind == OWN:
        return own_voice(said.text)
    wave = spoken(said.text, talker)
    if not said.moment.says:
        return wave
    echo = own_voice(said.moment.says) * np.float32(10 ** (rng.uniform(*OWN_GAINS) / 20))
    begins = int(rng.integers(0, max(1, len(echo) - len(wave) + 1)))
    echo = echo[begins : begins + len(wave)]
    both = wave.copy()
    both[: len(echo)] += echo
    return both


def spoilt(rng: np.random.Generator) -> Said:
    """A cue with a word put in, or left out, so that it is none."""
    while True:
        said = draw("cue", rng)
        words = said.text.split()
        own = (
            len(said.moment.vocabulary.address.split())
            if said.text.startswith(said.moment.vocabulary.address)
            else 0
        )
        if rng.random() < 0.7:
            words.insert(int(rng.integers(own, len(words) + 1)), _pick(_SPOILERS, rng))
        elif telling := [at for at in range(own, len(words)) if words[at] not in _LITTLE]:
            words.pop(_pick(telling, rng))
        text = " ".join(words)
        path = grammar_of(said.moment.vocabulary).find(text)
        if text != said.text and (path is None or path.cue is None):
            return Said("spoilt", text, None, "", said.moment)


def _pick(choices: Sequence[_T], rng: np.random.Generator) -> _T:
    return choices[rng.integers(len(choices))]


def rows(count: int, seed: int, name: str) -> Iterator[Row]:
    """Yield rows of `count` streams: one for each utterance that ended, spoken or imagined."""
    rng = np.random.default_rng([seed, 9])
    weigh, finder = engine(name)
    for number in range(count):
        where = condition(seed * 1000 + number, rng)
        kinds = ["cue"] * CUES + ["stop-word"] + [_pick(KINDS, rng) for _ in range(OTHERS)]
        said = [_drawn(kinds[at], rng) for at in rng.permutation(len(kinds))]
        mouths = [(each, dry(each, where.talker, rng)) for each in said]
        stream = in_condition(mouths, where, rng, training_crowd)
        yield from _heard(stream, where, weigh, finder)


def _drawn(kind: str, rng: np.random.Generator) -> Said:
    own = {"spoilt": spoilt, OWN: ours, "stop-word": stop_word}
    return own[kind](rng) if kind in own else draw(kind, rng)


def _heard(
    stream: Stream, where: Condition, weigh: Weigh, finder: FindsTalk | None
) -> Iterator[Row]:
    endpointer = Endpointer(None, finder, stream.address)
    heard: set[int] = set()
    for block in stream.blocks():
        endpointer.spotting = stream.slot_at(block.at).said.moment.vocabulary.stop_only
        for utterance in endpointer.feed(block):
            if utterance.final and utterance.same:
                continue
            shared, slot = _owner(stream, utterance)
            weighed = weigh(utterance.samples, slot.said.moment.vocabulary)
            heard.add(id(slot)) if shared > 0 else None
            # an offer that the talker goes on after is a part of what he says
            part = shared > 0 and utterance.ended < slot.ends - CUT_OFF
            yield {**_row(slot, where, weighed, spoke=shared > 0), "part": part}
    for slot in stream.slots:
        if id(slot) not in heard:
            yield {**_row(slot, where, Weighed(None, None, {}), spoke=True), "part": False}


def _owner(stream: Stream, utterance: Utterance) -> tuple[float, Slot]:
    """The slot an utterance overlaps most, and by how many seconds."""
    shared = [
        (min(slot.ends, utterance.ended) - max(slot.begins, utterance.started), slot)
        for slot in stream.slots
    ]
    return max(shared, key=lambda pair: pair[0])


def _row(slot: Slot, where: Condition, weighed: Weighed, *, spoke: bool) -> Row:
    return {
        "kind": slot.said.kind if spoke else "nothing",
        "said": slot.said.text if spoke else "",
        "right": slot.said.right if spoke else None,
        "talker": where.talker.name,
        "noise": where.noise,
        "snr": where.snr,
        "cue": weighed.cue,
        "tier": weighed.tier,
        "features": weighed.features,
    }
