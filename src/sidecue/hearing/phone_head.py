"""From frames of the speech encoder to how probable each phone is in each of them.

Two convolutions and a softmax, trained by `python -m benchmarks.phones.train` on synthetic voices
and some people for the loss of connectionist temporal classification (A. Graves and others, ICML
2006): between phones, and where nobody speaks, the class is BLANK.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt
from threadpoolctl import threadpool_limits

from sidecue.hearing.encoder import WIDTH, Frames
from sidecue.hearing.phones import PHONES

BLANK = len(PHONES)
CLASSES = BLANK + 1

LogProbabilities = npt.NDArray[np.float32]  # (frames, CLASSES)


class PhoneHead:
    """Weights by name; see `benchmarks.phones.train` for what they are."""

    def __init__(self, weights: Mapping[str, npt.NDArray[np.generic]]) -> None:
        # One core is enough; threads that wait for each other on a busy machine take seconds.
        threadpool_limits(1, user_api="blas")
        self._w = {name: np.asarray(value, dtype=np.float32) for name, value in weights.items()}

    def __call__(self, frames: Frames) -> LogProbabilities:
        """Return log probabilities, (frames, CLASSES); each row sums to one."""
        if len(frames) == 0:
            return np.zeros((0, CLASSES), dtype=np.float32)
        hidden = (frames.reshape(-1, WIDTH) - self._w["mean"]) * self._w["scale"]
        for layer in ("first", "second"):
            hidden = _gelu(_convolved(hidden, self._w[f"{layer}.kernel"], self._w[f"{layer}.bias"]))
        scores = hidden @ self._w["last.kernel"] + self._w["last.bias"]
        scores -= scores.max(axis=1, keepdims=True)
        return np.asarray(scores - np.log(np.exp(scores).sum(axis=1, keepdims=True)), np.float32)


def _convolved(rows: Frames, kernel: Frames, bias: Frames) -> Frames:
    """`kernel` is (width, inputs, outputs), width odd; the length stays."""
    around = len(kernel) // 2
    padded = np.pad(rows, ((around, around), (0, 0)))
    windows = [padded[at : at + len(rows)] for at in range(len(kernel))]
    flat = np.concatenate(windows, axis=1)
    return np.asarray(flat @ kernel.reshape(-1, kernel.shape[2]) + bias, dtype=np.float32)


def _gelu(x: Frames) -> Frames:
    """The usual approximation by tanh (D. Hendrycks and K. Gimpel, 2016)."""
    return np.asarray(0.5 * x * (1 + np.tanh(0.7978846 * (x + 0.044715 * x**3))), np.float32)


@cache
def shipped() -> PhoneHead:
    """The head that comes with the package."""
    raw = files("sidecue.hearing").joinpath("data/phone_head.npz").read_bytes()
    with np.load(io.BytesIO(raw), allow_pickle=False) as stored:
        return PhoneHead(dict(stored))
