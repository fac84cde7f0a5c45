"""From a YAML document to a file model, every mismatch as a fault with its line and mend."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Iterator, Sequence
from typing import Annotated, Any, TypeVar, get_args, get_origin

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from sidecue.procedure import schema
from sidecue.procedure.schema import FileModel
from sidecue.procedure.source import Document, Fault, LoadError, Place

M = TypeVar("M", bound=FileModel)

_FORMS: dict[str, type[FileModel]] = {
    f"({model.__name__})": model
    for model in (schema.StepEntry, schema.IncludeEntry, schema.RepeatEntry, schema.HandChoice)
}
_WRONG_TYPE = {
    "string_type": "text",
    "list_type": "a list: [one, two]",
    "dict_type": "a mapping: {name: value}",
    "model_type": "a mapping: {name: value}",
    "model_attributes_type": "a mapping: {name: value}",
    "float_type": "a number",
    "float_parsing": "a number",
    "bool_type": "true or false",
    "bool_parsing": "true or false",
}


def read_model(document: Document, model: type[M]) -> M:
    """Return `document` as `model`. Raises LoadError with every mismatch."""
    try:
        return model.model_validate(document.data)
    except ValidationError as error:
        details = error.errors(include_url=False)
    raise LoadError(_fault(document, model, detail) for detail in details)


def suggest(word: str, known: Iterable[str]) -> str:
    """Return a mend for an unknown `word`: the nearest known one, or the whole list."""
    names = sorted(set(known))
    near = difflib.get_close_matches(word, names, n=1, cutoff=0.6)
    if near:
        return f"did you mean {near[0]!r}?"
    return f"use one of {', '.join(names)}" if 0 < len(names) <= 24 else "add it, or correct it"


def _fault(document: Document, model: type[FileModel], detail: ErrorDetails) -> Fault:
    place = _place(document.data, detail["loc"])
    name = next((repr(part) for part in reversed(place) if isinstance(part, str)), "the file")
    kind, given, context = detail["type"], detail["input"], detail.get("ctx", {})
    if kind == "extra_forbidden":
        known = _keys(_model_at(model, detail["loc"][:-1]))
        return document.fault(place, f"unknown key {name}", suggest(str(place[-1]), known))
    if kind == "missing":
        key = str(detail["loc"][-1])
        return document.fault(place, f"{key!r} is missing", f"add `{key}:`")
    if kind in _WRONG_TYPE:
        what = f"{name} is {_told(given)}"
        return document.fault(place, what, f"write {_WRONG_TYPE[kind]}")
    if kind == "string_pattern_mismatch":
        return document.fault(place, *_bad_word(str(given), str(context.get("pattern"))))
    if kind in ("literal_error", "enum"):
        allowed = str(context.get("expected", "")).replace("'", "").replace(" or ", ", ")
        return document.fault(
            place, f"{name} is {_told(given)}", suggest(str(given), allowed.split(", "))
        )
    if kind in ("too_short", "string_too_short"):
        return document.fault(place, f"{name} is too short", "write it out, or remove the key")
    return document.fault(place, f"{name}: {detail['msg']}", "correct the value")


def _bad_word(given: str, pattern: str) -> tuple[str, str]:
    if "_{}' -" in pattern:
        return (
            f"phrase {given!r} cannot be spoken as written",
            "use lower-case words only, digits spelled out",
        )
    return f"{given!r} is not a name", "use lower-case letters, digits and hyphens"


def _told(value: object) -> str:
    if value is None:
        return "empty"
    text = str(value)
    return repr(text if len(text) <= 40 else text[:37] + "...")


def _place(data: object, location: Sequence[str | int]) -> Place:
    """Return the location without the marks that only tell the kind of an entry."""
    place: list[str | int] = []
    for part in location:
        keyed = isinstance(data, dict) and part in data
        if keyed or (isinstance(data, list) and isinstance(part, int) and part < len(data)):
            data = data[part]  # type: ignore[index]  # it is one of the two just asked about
            place.append(part)
    return tuple(place)


def _model_at(model: type[FileModel], location: Sequence[str | int]) -> type[FileModel]:
    """Return the model that holds the value at `location`."""
    for part in location:
        if isinstance(part, int):
            continue
        if part in _FORMS:
            model = _FORMS[part]
            continue
        for field in model.model_fields.values():
            if field.alias == part:
                model = next(_models(field.annotation), model)
    return model


def _models(annotation: Any) -> Iterator[type[FileModel]]:
    if get_origin(annotation) is Annotated:
        annotation = get_args(annotation)[0]
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        if issubclass(annotation, FileModel):
            yield annotation
        return
    for inner in get_args(annotation):
        yield from _models(inner)


def _keys(model: type[FileModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]
