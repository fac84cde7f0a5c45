"""How far apart two phrases sound, in phones weighted by how each is made.

A phone is an ARPAbet symbol without stress ("AO"). Replacing a phone by another costs the weighted
difference of their articulatory features (`data/phones.yaml`), on a scale where two phones of one
kind, both vowels or both consonants, taken at random differ by 1 on average; no replacement costs
more than leaving a phone out, or putting one in, which is 1. The scale is that of one kind because
a recogniser hardly ever takes a vowel for a consonant: what matters is how far apart those are that
could be taken for each other. P and B are 0.08 apart, S and SH 0.25, IY and AA 0.59, T and R 1.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files

import numpy as np
import numpy.typing as npt
import yaml

Phones = tuple[str, ...]
Matrix = npt.NDArray[np.float64]

_SIGNS = {"+": 1.0, "-": -1.0, "0": 0.0}
_VOWEL = 0  # where in the features it stands: "syl"
_GAP = 1.0
_TOGETHER = 4096  # pairs worked out at once: bounded memory


@cache
def _table() -> tuple[dict[str, int], frozenset[str], Matrix]:
    """Number of each phone, the vowels, and the cost of replacing one by another."""
    text = files("sidecue.procedure").joinpath("data/phones.yaml").read_text("utf-8")
    raw = yaml.load(text, Loader=yaml.CSafeLoader)
    weights = np.array(list(raw["features"].values()))
    made = np.array(
        [np.mean([[_SIGNS[sign] for sign in row] for row in rows], axis=0)
         for rows in raw["phones"].values()]
    )  # fmt: skip
    apart = (np.abs(made[:, None] - made[None, :]) * weights).sum(axis=-1)
    vowel = made[:, _VOWEL] > 0
    one_kind = (vowel[:, None] == vowel[None, :]) & ~np.eye(len(made), dtype=bool)
    cost = np.minimum(_GAP, apart / apart[one_kind].mean())
    names = list(raw["phones"])
    vowels = frozenset(name for name, is_vowel in zip(names, vowel, strict=True) if is_vowel)
    return {name: number for number, name in enumerate(names)}, vowels, cost


def known_phones() -> frozenset[str]:
    """Every phone there is."""
    return frozenset(_table()[0])


def replacing(one: str, other: str) -> float:
    """Return what replacing phone `one` by `other` costs, 0 to 1. Raises KeyError for no phone."""
    numbers, _, cost = _table()
    return float(cost[numbers[one], numbers[other]])


def syllables(phones: Sequence[str]) -> int:
    """Return how many vowels there are: one to a syllable."""
    vowels = _table()[1]
    return sum(phone in vowels for phone in phones)


def distance(one: Sequence[str], other: Sequence[str]) -> float:
    """Return how far apart two runs of phones are: 0 the same, 1 nothing in common.

    The weighted feature edit distance (least sum of costs, see above, that turns one into the
    other), divided by the number of phones of the longer one. Raises KeyError for an unknown phone.
    """
    return distances([(tuple(one), tuple(other))])[0]


def distances(pairs: Iterable[tuple[Phones, Phones]]) -> list[float]:
    """Return `distance` of each pair, all worked out together."""
    every = list(pairs)
    found = np.zeros(len(every))
    order = sorted(range(len(every)), key=lambda at: (len(every[at][0]), len(every[at][1])))
    for first in range(0, len(order), _TOGETHER):
        some = order[first : first + _TOGETHER]
        found[some] = _distances([every[at] for at in some])
    return [float(value) for value in found]


def _distances(pairs: list[tuple[Phones, Phones]]) -> Matrix:
    numbers, _, cost = _table()
    first, first_length = _padded([pair[0] for pair in pairs], numbers)
    second, second_length = _padded([pair[1] for pair in pairs], numbers)
    rows, columns = first.shape[1], second.shape[1]
    above = np.tile(np.arange(columns + 1) * _GAP, (len(pairs), 1))
    # Row of the table that each pair ends in; its last column is read when that row is reached.
    total = np.where(first_length == 0, second_length * _GAP, 0.0)
    every = np.arange(len(pairs))
    for row in range(1, rows + 1):
        replaced = above[:, :-1] + cost[first[:, row - 1][:, None], second]
        here = np.empty_like(above)
        here[:, 0] = row * _GAP
        np.minimum(replaced, above[:, 1:] + _GAP, out=here[:, 1:])
        for column in range(1, columns + 1):
            np.minimum(here[:, column], here[:, column - 1] + _GAP, out=here[:, column])
        ends = first_length == row
        total[ends] = here[every[ends], second_length[ends]]
        above = here
    longer = np.maximum(np.maximum(first_length, second_length), 1)
    result: Matrix = total / longer
    return result


def _padded(
    runs: list[Phones], numbers: dict[str, int]
) -> tuple[npt.NDArray[np.int_], npt.NDArray[np.int_]]:
    lengths = np.array([len(run) for run in runs])
    padded = np.zeros((len(runs), int(lengths.max(initial=0))), dtype=np.int_)
    for at, run in enumerate(runs):
        padded[at, : len(run)] = [numbers[phone] for phone in run]
    return padded, lengths
