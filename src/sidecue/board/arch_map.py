"""A small map of both arches with one tooth filled in: the patient's right is on the left."""

from __future__ import annotations

from collections.abc import Iterator

from sidecue.clinical.teeth import Tooth

BOX, GAP, MIDDLE = 3.0, 0.5, 1.6  # millimetres


def boxes(tooth: Tooth) -> Iterator[tuple[float, float, bool]]:
    """Yield the left and top of each tooth's box in mm, and whether it is the tooth.

    The boxes are `BOX` mm wide and high. Primary teeth have five in a quadrant, others eight.
    """
    many = 5 if tooth.primary else 8
    for arch in ("upper", "lower"):
        top = 0.0 if arch == "upper" else BOX + MIDDLE
        for side in ("right", "left"):
            for position in range(1, many + 1):
                step = many - position if side == "right" else many + position - 1
                left = step * (BOX + GAP) + (0.0 if side == "right" else MIDDLE - GAP)
                here = (tooth.arch, tooth.side, tooth.position) == (arch, side, position)
                yield left, top, here


def width(tooth: Tooth) -> float:
    """Return the width of the whole map in mm."""
    many = 5 if tooth.primary else 8
    return 2 * many * (BOX + GAP) - GAP + MIDDLE - GAP


HEIGHT = 2 * BOX + MIDDLE
