"""Conditions in files: every `when:`, `unless:` and `fits:` must name what a case can be."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sidecue.procedure.case_facts import CASE_FACTS
from sidecue.procedure.reading import suggest
from sidecue.procedure.schema import FileModel, Match
from sidecue.procedure.source import Document, Fault, Place, Sourced


def match_faults(source: Sourced[Any]) -> Iterator[Fault]:
    """Yield every condition of a file that no case could match."""
    for place, match in _conditions(source.model, ()):
        yield from _faults(source.document, place, match)


def _conditions(value: Any, place: Place) -> Iterator[tuple[Place, Match]]:
    if isinstance(value, FileModel):
        for name, field in type(value).model_fields.items():
            inner, held = (*place, field.alias or name), getattr(value, name)
            if name in ("when", "unless", "fits") and isinstance(held, dict):
                yield inner, held
            else:
                yield from _conditions(held, inner)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _conditions(item, (*place, number))


def _faults(document: Document, place: Place, match: Match) -> Iterator[Fault]:
    for key, values in match.items():
        known = CASE_FACTS.get(key)
        if known is None:
            what = f"unknown case fact {key!r}"
            yield document.fault((*place, key), what, suggest(key, CASE_FACTS))
            continue
        if not values:
            yield document.fault((*place, key), f"{key!r} matches nothing", "name a value")
        for number, value in enumerate(values):
            if value not in known:
                where = (*place, key, number)
                yield document.fault(where, f"{key!r} is never {value!r}", suggest(value, known))
