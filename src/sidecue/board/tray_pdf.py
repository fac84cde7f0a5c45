"""Tray cards as a PDF of A4 sheets: one sheet for each card, then the pull list."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from fpdf import FPDF
from fpdf.drawing_primitives import Transform
from fpdf.svg import SVGObject

from sidecue.board import arch_map
from sidecue.board.drawings import drawing
from sidecue.board.pdf_pen import Block, Pen
from sidecue.board.tray_card import DISCLAIMER, Card, Cell, Product, alike
from sidecue.board.tray_grid import NAME_MM, NEXT_MM, SIDE_MM, STRIP_MM, Grid, grid_for
from sidecue.board.tray_list import Pull
from sidecue.clinical.teeth import Tooth

_PAGE_WIDTH, _PAGE_HEIGHT, _MARGIN = 210.0, 297.0, 8.0
_WIDTH = _PAGE_WIDTH - 2 * _MARGIN
_FOOT = 5.0
_GUTTER = 5.0
_COLUMNS = (58.0, 76.0, 50.0)  # hand, materials, watch
_HEAD_END = _MARGIN + 20.5
_TEXT_END = _PAGE_HEIGHT - _MARGIN - _FOOT
_SMALLEST_GRID = 110.0  # mm: text shrinks, down to the last scale, before drawings get less
_SCALES = (1.0, 0.94, 0.88, 0.82, 0.76)
_TITLE = re.compile(r"<title>.*?</title>", re.DOTALL)  # it draws nothing


@dataclass(frozen=True, slots=True)
class Layout:
    """Where the parts of a card stand, in mm from the top of the page."""

    grid: Grid
    grid_top: float
    text_top: float
    text_scale: float
    text_end: float

    @property
    def fits(self) -> bool:
        """True when the text ends above the foot and the drawings can still be told apart."""
        return self.text_end <= _TEXT_END + 0.01 and self.grid.drawing_width >= SMALLEST_DRAWING


SMALLEST_DRAWING = 13.6  # mm: the marks beside it need as much height


def tray_pdf(cards: Iterable[Card], pull: Pull | None = None) -> bytes:
    """Return the PDF. Raises LettersError for an alphabet that the typeface does not have."""
    sheet = FPDF(format="A4", unit="mm")
    sheet.set_margin(_MARGIN)
    sheet.set_auto_page_break(False)
    sheet.set_title("Tray cards")
    sheet.set_creator("sidecue")
    for card in cards:
        sheet.add_page()
        _Sheet(sheet).card(card)
    if pull is not None:
        sheet.add_page()
        _PullSheet(sheet).print(pull)
    return bytes(sheet.output())


def layout_of(card: Card) -> Layout:
    """Return how a card will be laid out on its page. Raises LettersError."""
    measured = FPDF(format="A4", unit="mm")
    measured.add_page()  # widths are measured as if on a page
    return _Sheet(measured).layout(card)


def filled(card: Card) -> Card:
    """Return `card` with as many more cautions as its sheet has room for: neither drawings nor text
    get smaller for them. Raises LettersError."""
    before = layout_of(card)

    def has_room(more: int) -> bool:
        laid = layout_of(card.watching(more))
        same = (laid.grid, laid.text_scale) == (before.grid, before.text_scale)
        return laid.fits and same

    fits = 0
    for more in range(1, card.more_cautions + 1):
        if not has_room(more):
            break
        fits = more
    return card.watching(fits)


@cache
def _svg(instrument: str) -> SVGObject:
    """Return a drawing in black; the file leaves its ink to the page."""
    inked = _TITLE.sub("", drawing(instrument)).replace("currentColor", "#000000")
    return SVGObject(inked)


class _Sheet(Pen):
    """One card."""

    def card(self, card: Card) -> None:
        """Print a card on the page that is open."""
        laid = self.layout(card)
        self._head(card)
        self._stops(card, _HEAD_END, ink=True)
        self._grid(card.cells, laid.grid, laid.grid_top)
        y = laid.text_top - 2.0
        self.rule(_MARGIN, y, _WIDTH, 0.3)
        self._below(card, laid.text_top, laid.text_scale, ink=True)
        foot = _PAGE_HEIGHT - _MARGIN - 2.4
        self.line(_MARGIN, foot, DISCLAIMER, 6.4)
        wide = self.width(card.practice, 6.4)
        self.line(_PAGE_WIDTH - _MARGIN - wide, foot, card.practice, 6.4)

    def layout(self, card: Card) -> Layout:
        """Return where things go. The text shrinks a little before the drawings shrink much."""
        top = self._stops(card, _HEAD_END, ink=False)
        room = _TEXT_END - top
        for scale in _SCALES:
            high = self._below(card, 0.0, scale, ink=False)
            grid = grid_for(len(card.cells), _WIDTH, room - high - 3.0)
            if room - high - 3.0 >= _SMALLEST_GRID and grid.drawing_width >= SMALLEST_DRAWING:
                break
        text_top = top + grid.rows * grid.cell_height + 3.0
        return Layout(grid, top, text_top, scale, text_top + high)

    def _head(self, card: Card) -> None:
        y = _MARGIN
        self.line(_MARGIN, y, card.case_line, 19, bold=True)
        self.line(_MARGIN, y + 8.0, card.title, 10.5)
        self.line(_MARGIN, y + 12.8, f"Tooth {card.tooth}", 8.6)
        if card.marked is not None:
            self._arches(card.marked, y)
        wide = self.width(card.when, 8.6)
        self.line(_PAGE_WIDTH - _MARGIN - wide, y + 12.8, card.when, 8.6)
        self.rule(_MARGIN, y + 18.0, _WIDTH, 1.0)

    def _arches(self, tooth: Tooth, y: float) -> None:
        x = _PAGE_WIDTH - _MARGIN - arch_map.width(tooth)
        self.sheet.set_line_width(0.25)
        for left, top, here in arch_map.boxes(tooth):
            self.sheet.set_fill_color(0 if here else 255)
            side = arch_map.BOX
            self.sheet.rect(x + left, y + top, side, side, style="DF", round_corners=True,
                            corner_radius=0.6)  # fmt: skip

    def _stops(self, card: Card, y: float, *, ink: bool) -> float:
        texts = [f"REFUSED  {text}" for text in card.stops]
        texts += [f"ANSWER FIRST  {text}" for text in card.questions]
        if not texts:
            return y
        block = Block(self.sheet, _MARGIN + 2.5, y + 1.8, _WIDTH - 5.0, ink=ink)
        for text in texts:
            block.paragraph(text, 8.4, bold=True)
        if ink:
            self.sheet.set_line_width(0.3)
            self.sheet.rect(_MARGIN, y, _WIDTH, block.y - y + 1.0)
            self.sheet.rect(_MARGIN + 0.8, y + 0.8, _WIDTH - 1.6, block.y - y - 0.6)
        return block.y + 3.0

    def _grid(self, cells: tuple[Cell, ...], grid: Grid, top: float) -> None:
        last = ""
        for number, cell in enumerate(cells):
            row, column = divmod(number, grid.columns)
            x, y = _MARGIN + column * grid.cell_width, top + row * grid.cell_height
            first = cell.group != last
            start = x if first or column == 0 else x - 1.0
            self.rule(start, y + 0.3, x + grid.cell_width - 1.0 - start, 0.5)
            if first or column == 0:
                room = alike(cells, number, grid.columns) * grid.cell_width - 2.5
                label = self.fitted(cell.group, room, 6.4, bold=True)
                self.line(x, y + 0.9, label if first else f"({label})", 6.4, bold=True)
            self._cell(cell, grid, x, y + STRIP_MM)
            last = cell.group

    def _cell(self, cell: Cell, grid: Grid, x: float, y: float) -> None:
        wide, high = grid.drawing_width, grid.drawing_width / 2
        left = x + SIDE_MM + (grid.cell_width - NEXT_MM - SIDE_MM - wide) / 2
        with self.sheet.local_context():
            self.sheet.set_xy(left, y)
            svg = _svg(cell.instrument)
            _, _, paths = svg.transform_to_rect_viewport(scale=1, width=wide, height=high)
            paths.transform = (paths.transform or Transform.identity()).translate(left, y)
            self.sheet.draw_path(paths)
        self.line(x, y, str(cell.number), 7, bold=True)
        if cell.mark:
            self._mark(cell, x, y + 3.0)
        points = 7.0
        room = grid.cell_width - 0.8
        lines = self.lines(cell.name, room, points)
        while len(lines) > 2 and points > 5.4:
            points -= 0.4
            lines = self.lines(cell.name, room, points)
        for number, text in enumerate(lines[:3]):
            self.line(x, y + high + 0.4 + number * min(2.9, NAME_MM / len(lines)), text, points)

    def _mark(self, cell: Cell, x: float, y: float) -> None:
        """Print how the thing is handed, under its number: told apart by words, edge and fill."""
        words = cell.mark.split()
        wide, high = SIDE_MM - 0.4, 0.6 + 1.75 * len(words)
        hidden = cell.passing == "hidden"
        self.sheet.set_line_width(0.5 if cell.passing == "two-handed" else 0.2)
        if cell.passing == "placed":
            self.sheet.set_dash_pattern(dash=0.3, gap=0.4)
        self.sheet.set_fill_color(0 if hidden else 255)
        self.sheet.rect(x, y, wide, high, style="DF")
        self.sheet.set_dash_pattern()
        self.sheet.set_text_color(255 if hidden else 0)
        for number, word in enumerate(words):
            inset = (wide - self.width(word, 5.0)) / 2
            self.line(x + inset, y + 0.45 + 1.75 * number, word, 5.0)
        self.sheet.set_text_color(0)

    def _below(self, card: Card, y: float, size: float, *, ink: bool) -> float:
        ends = []
        x = _MARGIN
        for room, write in zip(_COLUMNS, (self._hand, self._materials, self._watch), strict=True):
            block = Block(self.sheet, x, y, room, ink=ink)
            write(card, block, size)
            ends.append(block.y)
            x += room + _GUTTER
        return max(ends)

    def _hand(self, card: Card, block: Block, size: float) -> None:
        block.heading("Hand")
        for head, text in card.passes:
            block.paragraph(f"{head}:", 7.6 * size, bold=True)
            block.paragraph(text, 7.6 * size)
            block.gap()
        if card.warnings:
            block.gap()
            block.heading("In this case")
            for text in card.warnings:
                block.paragraph(text, 7.6 * size, bold=True, bar=True)
                block.gap()

    def _materials(self, card: Card, block: Block, size: float) -> None:
        block.heading("Materials")
        for product in card.products:
            self._product(product, block, size)
        if card.chosen:
            block.gap()
            block.heading("For this tooth")
            block.paragraph(" · ".join(f"{name}: {text}" for name, text in card.chosen), 7.4 * size)

    def _product(self, product: Product, block: Block, size: float) -> None:
        block.paragraph(f"{product.name} ({product.role})", 7.8 * size, bold=True)
        block.paragraph(" · ".join((product.lot, *product.times)), 7.4 * size)
        rest = [product.storage] if product.storage else []
        rest += [f"Shades {product.shades}."] if product.shades else []
        if rest:
            block.paragraph(" ".join(rest), 6.6 * size)
        block.gap()

    def _watch(self, card: Card, block: Block, size: float) -> None:
        block.heading("Watch")
        for text in card.watch:
            block.paragraph(text, 7.4 * size)
        if card.more_cautions:
            block.paragraph(f"and {card.more_cautions} more in the plan", 6.8 * size)


class _PullSheet(Pen):
    """The pull list, in three columns; a long one goes on over the page."""

    def print(self, pull: Pull) -> None:
        self.line(_MARGIN, _MARGIN, "Pull list", 19, bold=True)
        self.line(_MARGIN, _MARGIN + 8.0, pull.title, 10.5)
        y = _MARGIN + 13.0
        block = Block(self.sheet, _MARGIN, y, _WIDTH, ink=True)
        block.paragraph(" / ".join(pull.visits), 8.4)
        self.rule(_MARGIN, block.y + 1.0, _WIDTH, 1.0)
        self._rows(pull, block.y + 3.5)

    def _rows(self, pull: Pull, top: float) -> None:
        room = (_WIDTH - 2 * _GUTTER) / 3
        column, y = 0, top
        bottom = _PAGE_HEIGHT - _MARGIN
        for heading, rows in pull.groups:
            for number, row in enumerate(rows):
                lines = self.lines(row.name, room - 9.0, 8.2)
                high = len(lines) * 3.5 + 0.6 + (6.0 if number == 0 else 0.0)
                if y + high > bottom:
                    column, y = column + 1, top
                    if column == 3:
                        self.sheet.add_page()
                        column, top = 0, _MARGIN
                        y = top
                x = _MARGIN + column * (room + _GUTTER)
                if number == 0:
                    y += 1.4
                    self.line(x, y, heading, 9, bold=True)
                    self.rule(x, y + 3.7, room, 0.5)
                    y += 4.6
                self.line(x, y, f"{row.count} x", 8.2, bold=True)
                for text in lines:
                    self.line(x + 8.0, y, text, 8.2)
                    y += 3.5
                self.rule(x, y, room, 0.1)
                y += 0.6
