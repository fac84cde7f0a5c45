"""Utterances of the corpus through the decoder: one row of features for each."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from benchmarks.listening import corpus
from benchmarks.listening.voices import HELD_OUT, TRAINING
from sidecue.hearing.sphinx import SphinxRecogniser

KINDS = {"cue": 9, "stop": 3, "bare": 1, "near": 4, "foreign": 3, "sentence": 4}
EDGE = 0.4  # seconds of the lead cut off, so that about as much is left as an endpoint leaves


def rows(count: int, seed: int, heldout: bool) -> Iterator[dict[str, Any]]:
    """Yield `count` rows: what was said, where, what was decoded, features."""
    rng = np.random.default_rng(seed)
    recogniser = SphinxRecogniser()
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
        reading, features = recogniser.readings(sound[cut : len(sound) - cut], said.vocabulary)
        path = reading.path
        yield {
            "kind": said.kind,
            "said": said.text,
            "right": said.cue,
            "talker": talker.name,
            "noise": room.noise,
            "snr": room.snr,
            "heard": reading.text,
            "cue": path.cue.id if path is not None and path.cue is not None else None,
            "tier": path.cue.tier.value if path is not None and path.cue is not None else None,
            "features": features,
        }
    recogniser.close()
