"""How many columns make the drawings of a tray card largest in the room there is."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

STRIP_MM = 3.4  # the band over a cell that carries the group's name
NAME_MM = 6.4  # two lines of a name
GAP_MM = 0.6
SIDE_MM = 6.6  # beside the drawing: its number, and how it is handed
NEXT_MM = 0.9  # after the drawing, before the next cell
WIDEST_MM = 26.0  # a drawing larger than this only makes a short card look loud


@dataclass(frozen=True, slots=True)
class Grid:
    """A grid of equal cells, all in millimetres; drawings are twice as wide as high."""

    columns: int
    rows: int
    cell_width: float
    cell_height: float
    drawing_width: float


def grid_for(count: int, width: float, height: float) -> Grid:
    """Return the grid whose drawings are largest for `count` cells in `width` x `height` mm."""
    best: Grid | None = None
    for columns in range(4, 13):
        rows = max(1, ceil(count / columns))
        cell_width = width / columns
        room = height / rows - STRIP_MM - NAME_MM - GAP_MM
        drawing = min(cell_width - SIDE_MM - NEXT_MM, 2 * room, WIDEST_MM)
        if best is None or drawing > best.drawing_width:
            tall = min(height / rows, drawing / 2 + STRIP_MM + NAME_MM + GAP_MM)
            best = Grid(columns, rows, cell_width, tall, drawing)
    assert best is not None
    return best
