"""Utterances of the corpus through the decoder: one row of features for each."""

from __future__ import annotations

import time
from collections.abc import Iterator
from typing import Any

import numpy as np

from benchmarks.listening import corpus
from benchmarks.listening.stock import StockDecoder
from benchmarks.listening.voices import HELD_OUT, TRAINING
from sidecue.hearing.sphinx import SphinxRecogniser

KINDS = {"cue": 9, "stop": 3, "bare": 1, "near": 4, "foreign": 3, "sentence": 4}
EDGE = 0.4  # seconds of the lead cut off, so that about as much is left as an endpoint leaves


def rows(
    count: int, seed: int, heldout: bool, *, compare: bool = False
) -> Iterator[dict[str, Any]]:
    """Yield `count` rows: what was said, where, what was decoded, features, processor seconds.

    With `compare`, also what the stock decoder takes it for.
    """
    rng = np.random.default_rng(seed)
    recogniser = SphinxRecogniser()
    stock = StockDecoder() if compare else None
    talkers = HELD_OUT if heldout else TRAINING
    kinds = [kind for kind, share in KINDS.items() for _ in range(share)]
    for _ in range(count):
        said = corpus.draw(kinds[rng.integers(len(kinds))], rng, heldout)
        talker = talkers[rng.integers(len(talkers))]
        room = corpus.QUIET
        if rng.random() < 0.85:
            snr = float(rng.choice(corpus.SNRS, p=[0.3, 0.2, 0.3, 0.15, 0.05]))
            room = corpus.Room(corpus.NOISES[rng.integers(len(corpus.NOISES))], snr)
        sound = corpus.in_room(said.text, talker, room, rng, heldout)
        cut = int(EDGE * 16_000)
        heard = sound[cut : len(sound) - cut]
        recogniser.grammar(said.vocabulary)  # built once per step, not per utterance
        began = time.process_time()
        look, other = recogniser.looks(heard, said.vocabulary)
        took = time.process_time() - began
        path = look.path
        yield {
            "kind": said.kind,
            "said": said.text,
            "right": said.cue,
            "talker": talker.name,
            "noise": room.noise,
            "snr": room.snr,
            "heard": look.text,
            "cue": look.cue,
            "tier": path.cue.tier.value if path is not None and path.cue is not None else None,
            "features": look.features,
            "score": look.score,
            "agreed": None if other is None else other.cue == look.cue,
            "other": None if other is None else other.cue,
            "seconds": len(heard) / 16_000,
            "took": took,
            **({"stock": stock.hear(heard, said.vocabulary)} if stock is not None else {}),
        }
    recogniser.close()
