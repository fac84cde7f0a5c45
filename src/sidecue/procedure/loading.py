"""Loading: a folder of procedure files becomes a checked Library, or every fault at once."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import TypeVar

from sidecue.procedure.case import Case, CaseFault, case_of
from sidecue.procedure.checking import check_library
from sidecue.procedure.folder import FOLDERS, SINGLE
from sidecue.procedure.gathering import Gathered
from sidecue.procedure.library import Library, library_of
from sidecue.procedure.practice import Practice, practice_of
from sidecue.procedure.practice_checks import Known, known_of, practice_faults
from sidecue.procedure.reading import read_model
from sidecue.procedure.schema import CaseFile, FileModel, PracticeFile
from sidecue.procedure.source import Document, Fault, LoadError, Sourced, read_document

M = TypeVar("M", bound=FileModel)


def load_library(folder: Path, extra_folders: Iterable[Path] = ()) -> Library:
    """Return everything in `folder`, and what `extra_folders` of the same layout add.

    An extra folder adds; it never replaces. Raises LoadError with all faults of all files.
    """
    faults: list[Fault] = []
    gathered = Gathered()
    for number, place in enumerate((folder, *extra_folders)):
        if not place.is_dir():
            faults.append(Fault(str(place), 1, "there is no such folder", "check the name"))
            continue
        faults += _gather(place, gathered, complete=number == 0)
    faults += check_library(gathered)
    if faults:
        raise LoadError(faults)
    return library_of(gathered)


def load_practice(path: Path, library: Library | None = None) -> Practice:
    """Return the practice in the file at `path`, checked against `library` where one is given.

    Raises LoadError with every fault.
    """
    source = _read(path, str(path), PracticeFile)
    known = Known()
    if library is not None:
        files = (each.model for each in library.procedures.values())
        known = known_of(files, library.rules, library.instruments)
    faults = list(practice_faults(source, known))
    if faults:
        raise LoadError(faults)
    return practice_of(source)


def load_case(path: Path, notation: str | None) -> Case:
    """Return the case in the file at `path`; `notation` is the practice's. Raises LoadError."""
    return placed_case(_read(path, str(path), CaseFile), notation)


def case_from(entries: Mapping[str, object], notation: str | None) -> Case:
    """Return the case of entries that came from no file (`{"tooth": "46", "depth-mm": 3}`).

    Raises CaseFault, one line, for an unknown entry, a wrong value or an impossible case.
    """
    try:
        entry = read_model(Document("the case", dict(entries), {}), CaseFile)
    except LoadError as error:
        first = error.faults[0]
        raise CaseFault("case", first.what, first.mend) from None
    return case_of(entry, notation)


def placed_case(source: Sourced[CaseFile], notation: str | None) -> Case:
    """Return the case of an entry that was read from a file. Raises LoadError with its line."""
    try:
        return case_of(source.model, notation)
    except CaseFault as fault:
        what = f"{fault.key}: {fault.what}"
        raise LoadError([source.document.fault((fault.key,), what, fault.mend)]) from fault


def _read(path: Path, shown: str, model: type[M]) -> Sourced[M]:
    document = read_document(path, shown)
    return Sourced(read_model(document, model), document)


def _gather(folder: Path, gathered: Gathered, *, complete: bool) -> list[Fault]:
    """Read every file of one folder into `gathered`; `complete` means none may be missing."""
    faults: list[Fault] = []
    for name, model in SINGLE.items():
        path = folder / name
        if path.exists() or path.is_symlink():
            faults += _keep(path, model, "", gathered)
        elif complete:
            gathered.broken.add(model)
            faults.append(Fault(str(path), 1, "the file is missing", "restore it"))
    for name, model in FOLDERS.items():
        for path in sorted((folder / name).glob("*.yaml")):
            faults += _keep(path, model, name, gathered)
    known = {folder / name for name in SINGLE}
    for path in sorted((*folder.rglob("*.yaml"), *folder.rglob("*.yml"))):
        in_place = path.parent.parent == folder and path.parent.name in FOLDERS
        if path not in known and not (in_place and path.suffix == ".yaml"):
            mend = "move it to where it belongs, name it .yaml, or remove it"
            faults.append(Fault(str(path), 1, "this file is not used", mend))
    return faults


def _keep(path: Path, model: type[FileModel], folder: str, gathered: Gathered) -> list[Fault]:
    try:
        gathered.add(_read(path, str(path), model), folder)
    except LoadError as error:
        gathered.broken.add(model)
        return list(error.faults)
    return []
