"""Vosk model folders: where they are looked for, what is in them, how to fetch one."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_data_path

from sidecue.assets import data_folder
from sidecue.hearing.port import AudioError

_NAME = re.compile(r"^vosk-model-[A-Za-z0-9][A-Za-z0-9._-]*$")


class ModelError(AudioError):
    """A model cannot be used or fetched; one line says why and how to mend it."""


@dataclass(frozen=True, slots=True)
class ModelFolder:
    """A folder that holds, or claims to hold, a Vosk model. `fault` is empty when usable."""

    name: str
    path: Path
    fault: str


def model_places() -> tuple[Path, ...]:
    """Where models are looked for: `models/` beside the flows, then the user's data folder."""
    places = [user_data_path("sidecue") / "models"]
    try:
        places.insert(0, data_folder("models"))
    except FileNotFoundError:
        places.insert(0, Path.cwd() / "models")
    return tuple(places)


def list_models(places: tuple[Path, ...] | None = None) -> tuple[ModelFolder, ...]:
    """Every model folder found, first place first."""
    found = []
    for place in places if places is not None else model_places():
        folders = sorted(place.iterdir()) if place.is_dir() else []
        found += [inspect(path) for path in folders if path.is_dir() and looks_like(path)]
    return tuple(found)


def looks_like(path: Path) -> bool:
    """True when a folder has anything of a Vosk model in it."""
    return any((path / part).exists() for part in ("am", "graph", "conf/model.conf", "final.mdl"))


def inspect(path: Path) -> ModelFolder:
    """Check a folder without loading it."""
    graph = path / "graph"
    if not path.is_dir():
        fault = "no such folder"
    elif not (path / "am" / "final.mdl").is_file() and not (path / "final.mdl").is_file():
        fault = "no acoustic model (am/final.mdl)"
    elif (graph / "HCLG.fst").is_file() and not (graph / "HCLr.fst").is_file():
        fault = "a static graph (HCLG.fst) ignores phrase lists; use a model with a dynamic graph"
    elif not (graph / "HCLr.fst").is_file() or not (graph / "Gr.fst").is_file():
        fault = "no dynamic graph (graph/HCLr.fst and graph/Gr.fst)"
    else:
        fault = ""
    return ModelFolder(path.name, path.resolve(), fault)


def first_usable() -> ModelFolder:
    """The first model folder without fault. Raises ModelError when there is none."""
    for model in list_models():
        if not model.fault:
            return model
    places = " or ".join(str(place) for place in model_places())
    raise ModelError(f"no Vosk model: put a model's folder in {places}, or fetch one by name")


def find_model(name_or_path: str) -> Path:
    """The folder of a usable model, by name or path.

    Raises ModelError saying what is wrong with it, or which models there are.
    """
    given = Path(name_or_path)
    candidates = [inspect(given)] if given.is_dir() else []
    candidates += [model for model in list_models() if model.name == name_or_path]
    for model in candidates:
        if not model.fault:
            return model.path
    if candidates:
        raise ModelError(f"model {name_or_path}: {candidates[0].fault}")
    have = ", ".join(model.name for model in list_models() if not model.fault) or "none"
    places = " or ".join(str(place) for place in model_places())
    raise ModelError(f"no model {name_or_path!r}; there are: {have}; put its folder in {places}")


def fetch(name: str, into: Path | None = None) -> Path:
    """Fetch a model by name with Vosk's own downloader; return its folder.

    Raises ModelError in one line when the name is none, the network cannot be reached, the disk
    is full, or what came is no usable model; nothing half-fetched is left behind.
    """
    if not _NAME.match(name):
        raise ModelError(f"{name!r} is no model name; they look like vosk-model-small-en-us-0.15")
    folder = into or user_data_path("sidecue") / "models"
    target = folder / name
    if target.is_dir() and not inspect(target).fault:
        return target
    fresh = not target.exists()
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _download(target)
    except (OSError, ValueError) as fault:  # URLError and timeouts are OSError; bad zip below
        reason = str(getattr(fault, "reason", fault)).strip() or type(fault).__name__
        raise ModelError(
            f"cannot fetch {name}: {reason}; check the network and the name, or unpack the model"
            f" into {folder} by hand"
        ) from fault
    finally:
        (folder / f"{name}.zip").unlink(missing_ok=True)
        if fresh and target.is_dir() and inspect(target).fault.startswith("no acoustic"):
            shutil.rmtree(target, ignore_errors=True)
    checked = inspect(target)
    if checked.fault:
        raise ModelError(f"model {name}: {checked.fault}")
    return checked.path


def _download(target: Path) -> None:
    """Run Vosk's downloader without making one of its model objects."""
    from zipfile import BadZipFile

    import vosk

    class Downloader:
        download_progress_hook = vosk.Model.download_progress_hook

    try:
        vosk.Model.download_model(Downloader(), target)
    except BadZipFile as fault:
        raise ValueError("what came is no zip archive") from fault
