"""XML as text: a declaration, indented elements, a new line at the end."""

from __future__ import annotations

from xml.etree.ElementTree import Element, indent, tostring


def document(root: Element) -> str:
    """Return `root` as a whole document."""
    indent(root)
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{tostring(root, encoding="unicode")}\n'
