"""What stands on a terminal after what was written to it: as much of one as our screen needs."""

from __future__ import annotations

import re

_PARTS = re.compile(r"\x1b\[([0-9;?]*)([A-Za-z])|([\r\n])|([^\x1b\r\n]+)")


def seen(written: str) -> list[str]:
    """Return the lines, oldest first; none ever leaves it at the top."""
    lines, row, column = [""], 0, 0
    for found in _PARTS.finditer(written):
        number, order, end, text = found.groups()
        if end == "\n":
            row, column = row + 1, 0
            lines += [""] * (row + 1 - len(lines))
        elif end == "\r":
            column = 0
        elif order == "A":
            row = max(0, row - int(number or 1))
        elif order == "K":
            lines[row] = ""
        elif text:
            lines[row] = lines[row][:column].ljust(column) + text + lines[row][column + len(text) :]
            column += len(text)
    return lines
