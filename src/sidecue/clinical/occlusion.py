"""Marking the bite and finishing the surface.

Sources: Int J Prosthodont 2015;28:360 (films of 12, 40, 80 and 200 um; thin film avoids needless
grinding); PMC2581523 (mark size does not measure force); scribd 98849783 (finishing order).
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum
from itertools import pairwise

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, block, warn
from sidecue.clinical.quantity import Number, plain, positive

FILMS_UM = (12, 40, 80, 200)
FILM_DEFAULT_UM = 40
PERCEIVED_UM = (8, 60)  # what patients feel in static bite: information-dentaire.fr


class Grit(IntEnum):
    """Finishing grades, coarsest first."""

    COARSE = 1
    MEDIUM = 2
    FINE = 3
    SUPERFINE = 4
    PASTE = 5


def check_film(thickness_um: Number) -> tuple[Finding, ...]:
    """Warn about marking film thicker than 40 um."""
    given = positive(thickness_um, "film thickness (um)")
    if given <= FILM_DEFAULT_UM:
        return ()
    return (
        warn(f"{plain(given)} um film marks too much: use 40 um or less", sources.MARKING_FILM),
    )


def grit(name: str) -> Grit:
    """Return the grade called `name`; raise ClinicalError for another word."""
    try:
        return Grit[name.strip().upper()]
    except KeyError as error:
        raise ClinicalError(
            f"grit {name!r}", "not a finishing grade", "coarse, medium, fine, superfine or paste"
        ) from error


def check_grits(used: Sequence[Grit]) -> tuple[Finding, ...]:
    """Refuse a sequence that goes back to a coarser grade; grades may be left out."""
    for earlier, later in pairwise(used):
        if later < earlier:
            text = f"{later.name.lower()} after {earlier.name.lower()} scratches again"
            return (block(text, sources.FINISHING),)
    return ()
