"""Files as data with line numbers, and faults that name file, line and mend.

PyYAML's composer gives a tree of nodes with their marks; the values are built here, so that a
word means what it looks like (`no`, `on` and `046` are words) and nothing is ever constructed
from a tag. Anchors, aliases and tags are refused: a procedure is read aloud, line by line.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Generic, TypeVar

import yaml

_Loader = getattr(
    yaml, "CSafeLoader", yaml.SafeLoader
)  # ten times faster where libyaml is built in

Place = tuple[str | int, ...]
M_co = TypeVar("M_co", covariant=True)

_NULL = frozenset({"", "~", "null"})
_TRUTH = {"true": True, "false": False}
_WHOLE = re.compile(r"-?(0|[1-9][0-9]{0,14})")
_DECIMAL = re.compile(r"-?(0|[1-9][0-9]{0,14})\.[0-9]{1,15}")


@dataclass(frozen=True, slots=True, order=True)
class Fault:
    """What is wrong in a file, where, and how to mend it. Lines count from 1."""

    file: str
    line: int
    what: str
    mend: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.what}: {self.mend}"


class LoadError(Exception):
    """Files that cannot be used; `faults` carries every fault found, one line each in `str()`."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(set(faults)))
        super().__init__("\n".join(str(fault) for fault in self.faults))


@dataclass(frozen=True, slots=True)
class Document:
    """One YAML file: plain data, and the line of every value in it."""

    file: str
    data: object
    lines: dict[Place, int]

    def line(self, place: Place) -> int:
        """Return the line of the value at `place`, or of the nearest thing that holds it."""
        while place and place not in self.lines:
            place = place[:-1]
        return self.lines.get(place, 1)

    def fault(self, place: Place, what: str, mend: str) -> Fault:
        """Return a fault at `place`."""
        return Fault(self.file, self.line(place), what, mend)


@dataclass(frozen=True)
class Sourced(Generic[M_co]):
    """A file model and the document it was read from, so that faults can name a line."""

    model: M_co
    document: Document


def read_text(path: Path, shown: str) -> str:
    """Return the text of `path`. Raises LoadError; `shown` is how faults name the file."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        fault = Fault(shown, 1, "there is no such file", "check the name")
    except IsADirectoryError:
        fault = Fault(shown, 1, "this is a folder, not a file", "name the YAML file inside it")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        fault = Fault(shown, line, "not UTF-8 text", "save the file as UTF-8")
    except OSError as error:
        why = error.strerror or type(error).__name__
        fault = Fault(shown, 1, f"cannot be read ({why})", "check the file and its permissions")
    raise LoadError([fault])


def read_document(path: Path, shown: str | None = None) -> Document:
    """Return the YAML file at `path` as data with lines. Raises LoadError with every fault."""
    name = shown if shown is not None else str(path)
    return parse_document(read_text(path, name), name)


def parse_document(text: str, file: str) -> Document:
    """Return YAML `text` as data with lines. Raises LoadError with every fault."""
    try:
        root = yaml.compose(text, Loader=_Loader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line = mark.line + 1 if mark is not None else 1
        line = min(line, max(1, len(text.splitlines())))
        what = f"broken YAML, {error.problem or error.context or 'cannot be read'}"
        raise LoadError([Fault(file, line, what, "check indents, quotes and brackets")]) from None
    except yaml.reader.ReaderError as error:
        line = text[: error.position].count("\n") + 1
        what = f"character {_shown(error.character)} is not allowed"
        raise LoadError([Fault(file, line, what, "remove it")]) from None
    except (yaml.YAMLError, RecursionError, ValueError) as error:
        what = f"broken YAML, {' '.join(str(error).split()) or type(error).__name__}"
        raise LoadError([Fault(file, 1, what, "check indents, quotes and brackets")]) from None
    if root is None:
        raise LoadError([Fault(file, 1, "the file is empty", "write it or remove it")])
    builder = _Builder(file)
    data = builder.build(root, ())
    if builder.faults:
        raise LoadError(builder.faults)
    return Document(file, data, builder.lines)


def _shown(character: object) -> str:
    number = character if isinstance(character, int) else ord(str(character)[:1] or "\0")
    return f"U+{number:04X}"


class _Builder:
    """Builds data from nodes, noting each value's line and every fault on the way."""

    def __init__(self, file: str) -> None:
        self._file = file
        self._seen: set[int] = set()
        self.lines: dict[Place, int] = {}
        self.faults: list[Fault] = []

    def build(self, node: yaml.Node, place: Place) -> object:
        """Return the data of `node`, which stands at `place`."""
        self.lines[place] = node.start_mark.line + 1
        if id(node) in self._seen:
            self._fault(node, "an alias is not used here", "write the value out")
            return None
        self._seen.add(id(node))
        if isinstance(node, yaml.MappingNode):
            return self._mapping(node, place)
        if isinstance(node, yaml.SequenceNode):
            return [self.build(item, (*place, number)) for number, item in enumerate(node.value)]
        return self._scalar(node) if isinstance(node, yaml.ScalarNode) else None

    def _mapping(self, node: yaml.MappingNode, place: Place) -> dict[str, object]:
        data: dict[str, object] = {}
        for key_node, value_node in node.value:
            if not isinstance(key_node, yaml.ScalarNode):
                self._fault(key_node, "a key must be one word", "write `word: value`")
                continue
            key = str(key_node.value)
            if key in data:
                first = self.lines[(*place, key)]
                self._fault(key_node, f"{key!r} is given twice", f"line {first} has it already")
                continue
            data[key] = self.build(value_node, (*place, key))
            self.lines[(*place, key)] = key_node.start_mark.line + 1
        return data

    def _scalar(self, node: yaml.ScalarNode) -> object:
        text = str(node.value)
        if not node.tag.startswith("tag:yaml.org,2002:") or "python" in node.tag:
            self._fault(node, f"the tag {node.tag} is not used here", "remove it")
            return None
        if node.style not in (None, ""):
            return text
        if text.lower() in _NULL:
            return None
        if text.lower() in _TRUTH:
            return _TRUTH[text.lower()]
        if _WHOLE.fullmatch(text):
            return int(text)
        return float(text) if _DECIMAL.fullmatch(text) else text

    def _fault(self, node: yaml.Node, what: str, mend: str) -> None:
        self.faults.append(Fault(self._file, node.start_mark.line + 1, what, mend))
