"""Files of the corpus: frames of the encoder and the phones that were said."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np
import numpy.typing as npt

from sidecue.hearing.encoder import WIDTH

Item = tuple[npt.NDArray[np.float16], Sequence[int]]  # frames and phones
MOST_FRAMES = 176
LONGEST = 48  # phones


def keep(made: Iterable[Item], path: Path) -> None:
    """Write a file of the corpus: frames one after another, lengths and phones beside them."""
    frames, phones = zip(*made, strict=True)
    with path.with_suffix(".part").open("wb") as file:
        np.savez(
            file,
            frames=np.concatenate(frames).reshape(-1, WIDTH),
            lengths=np.array([len(each) for each in frames]),
            phones=np.array([phone for each in phones for phone in each], dtype=np.int8),
            counts=np.array([len(each) for each in phones]),
        )
    path.with_suffix(".part").rename(path)


def read(paths: list[Path], longest: int = MOST_FRAMES) -> list[Item]:
    """All (frames, phones) of some files, but for those of more than `longest` frames, or of too
    few for their phones."""
    found: list[Item] = []
    for path in paths:
        with np.load(path) as raw:
            frames, phones = raw["frames"], raw["phones"]
            ends, stops = np.cumsum(raw["lengths"]), np.cumsum(raw["counts"])
        starts = np.concatenate([[0], ends[:-1]])
        begins = np.concatenate([[0], stops[:-1]])
        found += [
            (frames[a:b], phones[c:d])
            for a, b, c, d in zip(starts, ends, begins, stops, strict=True)
            if d - c + (phones[c : d - 1] == phones[c + 1 : d]).sum() <= b - a <= longest
            and (d - c <= LONGEST or longest > MOST_FRAMES)
        ]
    return found


def distance(found: list[int], right: list[int]) -> int:
    """Edit distance."""
    row = list(range(len(right) + 1))
    for at, one in enumerate(found, 1):
        before, row[0] = row[0], at
        for to, other in enumerate(right, 1):
            before, row[to] = row[to], min(row[to] + 1, row[to - 1] + 1, before + (one != other))
    return row[-1]
