"""What was read from the folders, before it is known to be sound."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any, TypeVar

from sidecue.procedure.schema import FileModel, ProcedureFile
from sidecue.procedure.source import Place, Sourced

M = TypeVar("M", bound=FileModel)


@dataclass
class Gathered:
    """Every file that could be read, and the kinds of file that could not."""

    files: dict[type[FileModel], list[Sourced[Any]]] = field(default_factory=dict)
    visits: list[str] = field(default_factory=list)  # files that are whole visits
    broken: set[type[FileModel]] = field(default_factory=set)  # references to these go unchecked

    def add(self, source: Sourced[Any], folder: str = "") -> None:
        """Keep one file that was read."""
        self.files.setdefault(type(source.model), []).append(source)
        if folder == "procedures":
            self.visits.append(source.document.file)

    def of(self, model: type[M]) -> list[Sourced[M]]:
        """Return the files of one kind."""
        return self.files.get(model, [])

    def entries(self, model: type[M], key: str) -> Iterator[tuple[Sourced[M], Place, Any]]:
        """Yield every entry of the lists called `key` in files of one kind, with its place."""
        for source in self.of(model):
            for number, entry in enumerate(getattr(source.model, key)):
                yield source, (key.replace("_", "-"), number), entry

    def visit_ids(self) -> tuple[str, ...]:
        """Return the ids of whole visits, in file order."""
        return tuple(
            source.model.procedure
            for source in self.of(ProcedureFile)
            if source.document.file in self.visits
        )
