"""The line drawing of an instrument, for the screen and the tray card.

Drawings are data: `flows/drawings/<instrument id>.svg`, 120 x 60 units, ink in `currentColor` so
that one file serves a light, a dark and a printed page. They carry no ids, styles or references
and may be placed in a page any number of times.
"""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path

from sidecue.assets import data_folder

# The underscore keeps the neutral shape out of reach of any instrument id.
_NEUTRAL = "_no-drawing"
# An id may come from a practice's file or a web address. Only names of this shape become paths:
# no dot, slash, backslash, drive letter or NUL can pass.
_ID = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_LONGEST_ID = 64


@lru_cache(maxsize=256)
def drawing(instrument_id: str) -> str:
    """Return the SVG markup of an instrument, to be put inside a page as it is.

    An instrument that only this practice has, or anything that is not an instrument id, gets a
    neutral shape, which says so in its title. Raises FileNotFoundError when the shipped drawings
    themselves are missing.
    """
    file = _file(instrument_id)
    if file is None or not file.is_file():
        file = _folder() / f"{_NEUTRAL}.svg"
    return file.read_text(encoding="utf-8")


def has_drawing(instrument_id: str) -> bool:
    """Return whether the instrument has a drawing of its own."""
    file = _file(instrument_id)
    return file is not None and file.is_file()


def _file(instrument_id: str) -> Path | None:
    if len(instrument_id) > _LONGEST_ID or not _ID.fullmatch(instrument_id):
        return None
    return _folder() / f"{instrument_id}.svg"


def _folder() -> Path:
    return data_folder("flows") / "drawings"
