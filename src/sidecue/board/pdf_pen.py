"""Text and rules on a PDF sheet, by points and millimetres.

Drawn with fpdf2, which needs nothing but Python. The built-in typeface knows the letters of
western Europe; other accents lose their mark, and another alphabet is refused, not garbled.
"""

from __future__ import annotations

import unicodedata

from fpdf import FPDF
from fpdf.enums import Align, WrapMode

_FACE = "helvetica"
_POINT = 0.3528  # mm
_LINKING = frozenset({"and", "with", "of", "the", "on", "from", "once", "or", "to"})
_PLAIN = {
    "–": "-",
    "—": "-",
    "’": "'",
    "‘": "'",
    "“": '"',
    "”": '"',
    "…": "...",
    "ł": "l",
    "Ł": "L",
}


class LettersError(ValueError):
    """A text that the PDF's typeface cannot print; the message names the letters."""


def printable(text: str) -> str:
    """Return `text` in letters of the built-in typeface. Raises LettersError."""
    out = []
    for letter in text:
        plain = _PLAIN.get(letter, letter)
        try:
            plain.encode("latin-1")
        except UnicodeEncodeError:
            plain = unicodedata.normalize("NFKD", letter).encode("latin-1", "ignore").decode()
            if not plain:
                raise LettersError(f"{letter!r} in {text!r}") from None
        out.append(plain)
    return "".join(out)


class Pen:
    """Text on a sheet, by points and millimetres."""

    def __init__(self, sheet: FPDF) -> None:
        self.sheet = sheet

    def font(self, points: float, *, bold: bool = False) -> None:
        """Take the typeface at this size."""
        self.sheet.set_font(_FACE, "B" if bold else "", points)

    def line(self, x: float, y: float, text: str, points: float, *, bold: bool = False) -> None:
        """Print one line with its top at `y`."""
        self.font(points, bold=bold)
        self.sheet.text(x, y + points * _POINT * 0.76, printable(text))

    def width(self, text: str, points: float, *, bold: bool = False) -> float:
        """Return how wide a line is, in mm."""
        self.font(points, bold=bold)
        return float(self.sheet.get_string_width(printable(text)))

    def fitted(self, text: str, room: float, points: float, *, bold: bool = False) -> str:
        """Return as many words of `text` as fit in `room` mm, all of it where it can."""
        words = text.split()
        while len(words) > 1 and self.width(" ".join(words), points, bold=bold) > room:
            words.pop()
            while len(words) > 1 and words[-1] in _LINKING:
                words.pop()
        return " ".join(words)

    def lines(self, text: str, room: float, points: float, *, bold: bool = False) -> list[str]:
        """Return `text` broken into lines of at most `room` mm."""
        self.font(points, bold=bold)
        broken = self.sheet.multi_cell(
            room, 1, printable(text), dry_run=True, output="LINES", align=Align.L,
            wrapmode=WrapMode.WORD, padding=0,
        )  # fmt: skip
        assert isinstance(broken, list)
        return broken

    def rule(self, x: float, y: float, long: float, thick: float) -> None:
        """Draw a level rule from `x`."""
        self.sheet.set_line_width(thick)
        self.sheet.line(x, y, x + long, y)


class Block(Pen):
    """A column of paragraphs. With `ink` off it only measures."""

    def __init__(self, sheet: FPDF, x: float, y: float, room: float, *, ink: bool) -> None:
        super().__init__(sheet)
        self.x, self.y, self.room, self.ink = x, y, room, ink

    def heading(self, text: str) -> None:
        """Print a heading with its rule."""
        if self.ink:
            self.line(self.x, self.y, text, 9, bold=True)
            self.rule(self.x, self.y + 3.7, self.room, 0.3)
        self.y += 4.9

    def paragraph(
        self, text: str, points: float = 8.0, *, bold: bool = False, bar: bool = False
    ) -> None:
        """Print a paragraph; `bar` sets it off by a thick stroke on its left."""
        indent = 2.2 if bar else 0.0
        top, step = self.y, points * _POINT * 1.2
        for each in self.lines(text, self.room - indent, points, bold=bold):
            if self.ink:
                self.line(self.x + indent, self.y, each, points, bold=bold)
            self.y += step
        if bar and self.ink:
            self.sheet.set_line_width(0.9)
            self.sheet.line(self.x + 0.5, top, self.x + 0.5, self.y - 0.4)

    def gap(self, high: float = 0.9) -> None:
        """Leave some room."""
        self.y += high
