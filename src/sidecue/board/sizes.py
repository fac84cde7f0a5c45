"""How large letters must be to be read across the room: from the angle they fill in the eye.

Height = 2 x distance x tan(angle / 2). 22 minutes of arc is the least for text that matters and
35 the goal for the step (legibility of displayed characters; the figures from memory of display
ergonomics standards, to be checked against the edition in force).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import hypot, radians, tan

LEAST_ARCMIN = 22.0
GOAL_ARCMIN = 35.0
MM_PER_INCH = 25.4

#: Every step of every shipped visit keeps the least size up to so many metres for each inch of a
#: 16:9 screen (`python -m benchmarks.board.board_figures --only reach`).
GOOD_FOR_M_PER_INCH = 0.112

#: What is taken for granted where nobody says: a desktop screen across the room.
DIAGONAL_INCHES = 27.0
DISTANCE_M = 3.0


def height_mm(distance_m: float, arcmin: float) -> float:
    """Return the height in millimetres that fills `arcmin` minutes of arc at `distance_m`."""
    return 2_000 * distance_m * tan(radians(arcmin / 60) / 2)


def good_for(diagonal_inches: float) -> float:
    """Return from how many metres, rounded down to 0.1, a wide screen can be read in every step."""
    return int(GOOD_FOR_M_PER_INCH * diagonal_inches * 10 + 1e-9) / 10


@dataclass(frozen=True, slots=True)
class Viewing:
    """A screen and who reads it: diagonal in inches, as screens are sold, and metres away."""

    diagonal_inches: float = DIAGONAL_INCHES
    distance_m: float = DISTANCE_M

    def __post_init__(self) -> None:
        """Raise ValueError, one line, for a screen or a room that cannot be."""
        if not 4 <= self.diagonal_inches <= 200:
            raise ValueError(f"a screen of {self.diagonal_inches:g} inches: give 4 to 200")
        if not 0.2 <= self.distance_m <= 20:
            raise ValueError(f"a distance of {self.distance_m:g} m: give 0.2 to 20")

    @property
    def told(self) -> str:
        """One line: from how far this screen is good for, and what that means where it stands."""
        far = good_for(self.diagonal_inches)
        line = f"a screen of {self.diagonal_inches:g} inches shows every step large enough " \
            f"for {far:g} m"  # fmt: skip
        if self.distance_m <= far:
            return f"{line}; letters are set for {self.distance_m:g} m"
        return f"{line}: at {self.distance_m:g} m the fullest steps come out smaller " \
            "(--screen and --distance say what yours are)"  # fmt: skip

    @property
    def least_mm(self) -> float:
        """Height of a capital letter in text that matters."""
        return height_mm(self.distance_m, LEAST_ARCMIN)

    @property
    def goal_mm(self) -> float:
        """Height of a capital letter in the step."""
        return height_mm(self.distance_m, GOAL_ARCMIN)

    def pixels(self, mm: float, width: int, height: int) -> float:
        """Return `mm` in pixels on this screen when it shows `width` x `height` of them."""
        return mm * hypot(width, height) / (self.diagonal_inches * MM_PER_INCH)
