"""The little Markdown that records need: safe text, tables, lists."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

_ESCAPED = str.maketrans({mark: f"\\{mark}" for mark in "\\`*_[]<>|#"})


def plain(text: str) -> str:
    """Return `text` on one line with every mark that Markdown would act on escaped."""
    return " ".join(text.split()).translate(_ESCAPED)


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> list[str]:
    """Return a table as lines. Cells are escaped."""
    body = [f"| {' | '.join(plain(cell) for cell in row)} |" for row in rows]
    return [f"| {' | '.join(heads)} |", f"|{'---|' * len(heads)}", *body]


def bullets(items: Iterable[str], otherwise: str) -> list[str]:
    """Return a list as lines, or the line `otherwise` when it would be empty."""
    return [f"- {plain(item)}" for item in items] or [otherwise]
