"""A pedal that is held down to talk: what is said meanwhile needs no address."""

from __future__ import annotations

#: A pedal that is held says so again at least so often (seconds); silence lets it go.
HELD_FOR = 1.2
#: Who speaks as the pedal goes down may be a little early.
EARLY = 0.3


class Pedal:
    """The last hold of one pedal."""

    def __init__(self) -> None:
        self._from = self._until = float("-inf")

    def talk(self, at: float, held: bool) -> None:
        """It is held at `at`, told again within `HELD_FOR` seconds, or is let go."""
        if held:
            self._from = self._from if at <= self._until else at
            self._until = at + HELD_FOR
        else:
            self._until = min(self._until, at)

    def held(self, at: float) -> bool:
        """Whether what is said from `at` on is said with it held."""
        return self._from - EARLY <= at <= self._until
