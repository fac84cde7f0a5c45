"""Where the shipped data lies: beside the checkout, or inside an installed wheel."""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent
_CHECKOUT = _PACKAGE.parents[1]


def data_folder(name: str) -> Path:
    """Return the folder of shipped data called `name` (`flows`, `audio_fixtures/demo`).

    A checkout (editable install) keeps them at its top level; a wheel carries copies.
    Raises FileNotFoundError naming both places when neither exists.
    """
    beside, inside = _CHECKOUT / name, _PACKAGE / "data" / name
    for folder in (inside, beside):
        if folder.is_dir():
            return folder
    raise FileNotFoundError(f"shipped data {name!r} is in neither {inside} nor {beside}; reinstall")
