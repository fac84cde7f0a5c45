"""Train the phone head: `python -m benchmarks.phones.train`, after `benchmarks.phones.corpus` and
`benchmarks.phones.people`.

Writes `src/sidecue/hearing/data/phone_head.npz` and its report beside it. Of the corpus's files
one in twenty is kept out of the fitting and judged at the end, and so are the people in
`unseen-people.npz`. `--from` goes on from a head that was trained before.
"""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import numpy.typing as npt
import optax

from benchmarks.phones.corpus import FOLDER
from benchmarks.phones.keeping import LONGEST, MOST_FRAMES, Item, distance, read
from sidecue.hearing.encoder import WIDTH
from sidecue.hearing.phone_head import BLANK, CLASSES, PhoneHead

TARGET = Path("src/sidecue/hearing/data/phone_head.npz")
HIDDEN = 192
REACH = (5, 5)  # frames a convolution sees
BATCH = 48
LENGTHS = (48, 72, 96, 128, MOST_FRAMES)  # frames that batches are padded to
PEOPLE = ("people.npz", "unseen-people.npz")

Weights = dict[str, Any]


def fresh(items: list[Item], seed: int) -> Weights:
    """Weights to begin with; the mean and spread of the frames are measured."""
    rng = np.random.default_rng(seed)
    rows = np.concatenate([frames for frames, _ in items[::7]]).astype(np.float32)

    def random(*shape: int) -> npt.NDArray[np.float32]:
        spread = np.sqrt(2 / np.prod(shape[:-1]))
        return np.asarray(rng.standard_normal(shape) * spread, dtype=np.float32)

    return {
        "mean": rows.mean(axis=0),
        "scale": 1 / (rows.std(axis=0) + 1e-3),
        "first.kernel": random(REACH[0], WIDTH, HIDDEN),
        "first.bias": np.zeros(HIDDEN, np.float32),
        "second.kernel": random(REACH[1], HIDDEN, HIDDEN),
        "second.bias": np.zeros(HIDDEN, np.float32),
        "last.kernel": random(HIDDEN, CLASSES),
        "last.bias": np.zeros(CLASSES, np.float32),
    }


def _dropped(x: jax.Array, key: jax.Array | None, share: float) -> jax.Array:
    if key is None:
        return x
    kept = jax.random.bernoulli(key, 1 - share, x.shape)
    return jnp.where(kept, x / (1 - share), 0.0)


def scores(weights: Weights, frames: jax.Array, key: jax.Array | None) -> jax.Array:
    """Class scores of padded batches, (batch, frames, CLASSES)."""
    keys = jax.random.split(key, 2) if key is not None else (None, None)
    hidden = (frames - weights["mean"]) * weights["scale"]
    hidden = _dropped(hidden, keys[0], 0.1)
    for layer in ("first", "second"):
        hidden = jax.lax.conv_general_dilated(
            hidden,
            weights[f"{layer}.kernel"],
            (1,),
            "SAME",
            dimension_numbers=("NWC", "WIO", "NWC"),
        )
        hidden = jax.nn.gelu(hidden + weights[f"{layer}.bias"], approximate=True)
    hidden = _dropped(hidden, keys[1], 0.15)
    return hidden @ weights["last.kernel"] + weights["last.bias"]


def loss(weights: Weights, batch: tuple[jax.Array, ...], key: jax.Array | None) -> jax.Array:
    """Mean loss a phone."""
    frames, padding, phones, unused = batch
    each = optax.ctc_loss(scores(weights, frames, key), padding, phones, unused, blank_id=BLANK)
    return each.sum() / (1 - unused).sum()


def batches(items: list[Item], rng: np.random.Generator) -> Iterator[tuple[Any, ...]]:
    """All items in random order, those of like length together."""
    chosen: list[tuple[int, npt.NDArray[np.int64]]] = []
    for low, high in zip((0, *LENGTHS[:-1]), LENGTHS, strict=True):
        inside = np.array([at for at, item in enumerate(items) if low < len(item[0]) <= high])
        rng.shuffle(inside)
        for start in range(0, len(inside) - BATCH + 1, BATCH):
            chosen.append((high, inside[start : start + BATCH]))
    for at in rng.permutation(len(chosen)):
        high, places = chosen[at]
        yield padded([items[place] for place in places], high)


def padded(chosen: list[Item], length: int) -> tuple[Any, ...]:
    """Frames, their padding, phones, and which of those are none."""
    frames = np.zeros((len(chosen), length, WIDTH), np.float32)
    padding = np.ones((len(chosen), length), np.float32)
    phones = np.zeros((len(chosen), LONGEST), np.int32)
    unused = np.ones((len(chosen), LONGEST), np.float32)
    for row, (sound, said) in enumerate(chosen):
        frames[row, : len(sound)] = sound
        padding[row, : len(sound)] = 0
        phones[row, : len(said)] = said
        unused[row, : len(said)] = 0
    return frames, padding, phones, unused


def fit(items: list[Item], passes: int, seed: int, weights: Weights, peak: float) -> Weights:
    """Fit by AdamW with a rate that rises to `peak` and falls."""
    rng = np.random.default_rng(seed)
    steps = passes * sum(1 for _ in batches(items, np.random.default_rng(0)))
    rate = optax.cosine_onecycle_schedule(steps, peak, pct_start=0.15)
    frozen = {"mean", "scale"}
    optimiser = optax.chain(
        optax.clip_by_global_norm(1.0),
        optax.adamw(rate, weight_decay=0.01),
    )
    fitted = {name: value for name, value in weights.items() if name not in frozen}
    fixed = {name: value for name, value in weights.items() if name in frozen}
    state = optimiser.init(fitted)

    @jax.jit
    def step(fitted: Weights, state: Any, batch: Any, key: jax.Array) -> tuple[Any, ...]:
        value, slope = jax.value_and_grad(lambda w: loss({**w, **fixed}, batch, key))(fitted)
        change, state = optimiser.update(slope, state, fitted)
        return optax.apply_updates(fitted, change), state, value

    key = jax.random.PRNGKey(seed)
    for turn in range(passes):
        values = []
        for batch in batches(items, rng):
            key, own = jax.random.split(key)
            fitted, state, value = step(fitted, state, batch, own)
            values.append(float(value))
        print(f"pass {turn + 1} of {passes}: {np.mean(values):.3f} a phone", flush=True)
    return {name: np.asarray(value) for name, value in {**fixed, **fitted}.items()}


def phone_errors(weights: Weights, items: list[Item]) -> float:
    """Insertions, deletions and substitutions a phone, of the best class of each frame."""
    head = PhoneHead(weights)
    wrong = said = 0
    for frames, phones in items:
        best = head(frames.astype(np.float32)).argmax(axis=1)
        kept = [
            int(c) for at, c in enumerate(best) if c != BLANK and (at == 0 or best[at - 1] != c)
        ]
        wrong += distance(kept, [int(p) for p in phones])
        said += len(phones)
    return wrong / max(1, said)


def _hours(items: list[Item]) -> float:
    return round(sum(len(frames) for frames, _ in items) * 0.024 / 3600, 2)


def main() -> None:
    """Train and write."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--corpus", type=Path, default=FOLDER)
    asked.add_argument("--passes", type=int, default=9)
    asked.add_argument("--seed", type=int, default=3)
    asked.add_argument("--into", type=Path, default=TARGET)
    asked.add_argument("--from", type=Path, dest="start", help="a head to go on from")
    options = asked.parse_args()
    paths = sorted(options.corpus.glob("frames-*.npz"))
    kept_out = paths[::20]
    synthetic = read([path for path in paths if path not in kept_out])
    people, unseen = read([options.corpus / PEOPLE[0]]), read([options.corpus / PEOPLE[1]], 10_000)
    items, others = synthetic + people, read(kept_out)
    if options.start is not None:
        with np.load(options.start) as stored:
            begun = {name: np.asarray(value, np.float32) for name, value in stored.items()}
        weights = fit(items, options.passes, options.seed, begun, 1e-3)
    else:
        weights = fit(items, options.passes, options.seed, fresh(items, options.seed), 2e-3)
    half = {name: value.astype(np.float16) for name, value in weights.items()}
    with options.into.open("wb") as file:
        np.savez_compressed(file, **half)
    report = {
        "note": "Trained by benchmarks/phones/train.py, mostly on synthetic voices, which flatter.",
        "utterances": len(items),
        "hours": _hours(items),
        "hours of people among them, each recording in several rooms": _hours(people),
        "went on from an earlier head": options.start is not None,
        "phone errors, new texts and rooms, training voices": round(phone_errors(half, others), 4),
        "phone errors, people never trained on": round(phone_errors(half, unseen), 4),
        "recordings of them": len(unseen),
        "passes": options.passes,
        "seed": options.seed,
    }
    options.into.with_suffix(".json").write_text(json.dumps(report, indent=2) + "\n", "utf-8")
    print(json.dumps(report, indent=2))


if __name__ == "__main__":
    main()
