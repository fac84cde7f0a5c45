"""Tray cards as one HTML page of A4 sheets. No script, no outside address, black on white."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from sidecue.board import arch_map
from sidecue.board.drawings import drawing
from sidecue.board.pdf_pen import LettersError
from sidecue.board.tray_card import DISCLAIMER, Card, Cell, Product, alike
from sidecue.board.tray_grid import grid_for
from sidecue.board.tray_list import Pull
from sidecue.board.tray_pdf import layout_of
from sidecue.clinical.teeth import Tooth

_STYLE = """
@page { size: A4; margin: 0 }
* { box-sizing: border-box; margin: 0; padding: 0 }
body { font: 8.2pt/1.22 Arial, Helvetica, sans-serif; color: #000; background: #fff }
.card { width: 210mm; height: 296.5mm; padding: 8mm; display: flex; flex-direction: column;
  break-after: page; overflow: hidden }
header { display: flex; justify-content: space-between; align-items: flex-start;
  border-bottom: 1mm solid #000; padding-bottom: 2mm; margin-bottom: 2mm }
h1 { font-size: 19pt; line-height: 1.05 } h2 { font-size: 10.5pt; font-weight: 400 }
header p { font-size: 8.6pt } .where { text-align: right }
.where svg { height: 7.6mm; margin-bottom: .8mm }
.stop { border: .9mm double #000; padding: 1.2mm 2mm; margin-bottom: 2mm }
.stop b { text-transform: uppercase; letter-spacing: .06em }
.tray { flex: 1 1 0; min-height: 0; display: grid; row-gap: .6mm;
  border-bottom: .3mm solid #000 }
.cell { display: flex; flex-direction: column; min-width: 0; min-height: 0; padding-right: 1mm }
.strip { flex: 0 0 3.4mm; border-top: .5mm solid #000; font-size: 6.4pt; font-weight: 700;
  white-space: nowrap; line-height: 3mm }
.strip span { display: block; overflow: hidden; text-overflow: ellipsis }
.cell.next .strip { margin-left: -1mm; padding-left: 1mm }
.see { flex: 1 1 0; min-height: 0; display: flex; gap: .5mm }
.see svg { flex: 1 1 0; min-width: 0; height: 100%; max-height: 13mm }
.side { flex: 0 0 6.6mm; font-weight: 700; font-size: 7pt; line-height: 2.8mm }
.mark { display: block; font-size: 5pt; font-weight: 400; line-height: 1.7mm; padding: .1mm 0;
  text-align: center; border: .2mm solid #000 }
.mark.hidden { background: #000; color: #fff; -webkit-print-color-adjust: exact;
  print-color-adjust: exact }
.mark.placed { border-style: dotted } .mark.two-handed { border-width: .5mm }
.name { flex: 0 0 6mm; font-size: 7pt; line-height: 2.9mm; overflow: hidden }
.name.long { font-size: 6pt; line-height: 2.4mm }
.below { display: grid; grid-template-columns: 58mm 1fr 50mm; gap: 5mm; padding-top: 2mm }
.below h3 { font-size: 9pt; border-bottom: .3mm solid #000; margin-bottom: 1mm }
.below p { margin-bottom: .9mm; font-size: 7.8pt }
.below .tight p { margin: 0; font-size: 7.4pt } .below small { font-size: 7pt; display: block }
.warn { border-left: 1mm solid #000; padding-left: 1.4mm }
footer { font-size: 6.4pt; padding-top: 1.4mm; display: flex; justify-content: space-between }
.pull { width: 210mm; padding: 8mm; break-after: page }
.pull .rows { columns: 3; column-gap: 6mm; font-size: 8.4pt }
.pull .row { display: flex; gap: 2mm; break-inside: avoid; border-bottom: .15mm solid #999 }
.pull .row b { flex: 0 0 8mm; text-align: right } .pull .row span { flex: 1 }
.pull h3 { break-after: avoid; margin: 2mm 0 .6mm; border-bottom: .5mm solid #000 }
@media screen { .card, .pull { margin: 6mm auto; outline: .2mm solid #888 } }
"""

# The room of the grid on a sheet whose other parts are of the usual size, in mm; for a card in
# another alphabet, which the PDF's typeface cannot measure.
_WIDTH, _HEIGHT = 194.0, 150.0
_LONG_NAME = 26  # letters; a longer name is printed smaller to keep its lines


def tray_html(cards: Iterable[Card], pull: Pull | None = None) -> str:
    """Return a whole HTML page: a sheet for each card, then the pull list where there is one."""
    sheets = [_card(card) for card in cards]
    if pull is not None:
        sheets.append(_pull(pull))
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="generator" content="sidecue"><title>Tray cards</title>'
        f"<style>{_STYLE}</style></head>\n<body>\n" + "\n".join(sheets) + "\n</body></html>\n"
    )


def _card(card: Card) -> str:
    columns = _columns(card)
    cells = []
    last = ""
    for number, cell in enumerate(card.cells):
        first = cell.group != last
        label = cell.group if first else (f"({cell.group})" if number % columns == 0 else "")
        cells.append(_cell(cell, label, alike(card.cells, number, columns)))
        last = cell.group
    grid = f"grid-template-columns: repeat({columns}, minmax(0, 1fr)); grid-auto-rows: 1fr"
    return "\n".join(
        [
            '<section class="card">',
            _head(card),
            _stops(card),
            f'<div class="tray" style="{grid}">',
            *cells,
            "</div>",
            _below(card),
            f"<footer><span>{_text(DISCLAIMER)}</span><span>{_text(card.practice)}</span></footer>",
            "</section>",
        ]
    )


def _columns(card: Card) -> int:
    """Return the number of columns; the browser lays out the rest."""
    try:
        return layout_of(card).grid.columns
    except LettersError:
        return grid_for(len(card.cells), _WIDTH, _HEIGHT).columns


def _head(card: Card) -> str:
    arches = "" if card.marked is None else _arches(card.marked)
    return (
        f"<header><div><h1>{_text(card.case_line)}</h1><h2>{_text(card.title)}</h2>"
        f'<p>Tooth {_text(card.tooth)}</p></div><div class="where">{arches}'
        f"<p>{_text(card.when)}</p></div></header>"
    )


def _arches(tooth: Tooth) -> str:
    side = arch_map.BOX
    marks = "".join(
        f'<rect x="{left:.1f}" y="{top:.1f}" width="{side}" height="{side}" rx=".7" '
        f'fill="{"#000" if here else "none"}"/>'
        for left, top, here in arch_map.boxes(tooth)
    )
    wide = arch_map.width(tooth)
    return (
        f'<svg viewBox="-.3 -.3 {wide + 0.6:.1f} {arch_map.HEIGHT + 0.6:.1f}" stroke="#000" '
        f'stroke-width=".25" role="img"><title>{_text(tooth.name)}</title>{marks}</svg>'
    )


def _stops(card: Card) -> str:
    lines = [f"<p><b>Refused</b> {_text(text)}</p>" for text in card.stops]
    lines += [f"<p><b>Answer first</b> {_text(text)}</p>" for text in card.questions]
    return f'<div class="stop">{"".join(lines)}</div>' if lines else ""


def _cell(cell: Cell, label: str, wide: int) -> str:
    """Return one cell; a label may run over the `wide` cells of its group in this row."""
    mark = f'<span class="mark {cell.passing}">{_text(cell.mark)}</span>' if cell.mark else ""
    name = "name long" if len(cell.name) > _LONG_NAME else "name"
    over = f'<span style="width: calc({wide}00% - 1mm)">{_text(label)}</span>' if label else ""
    return (
        f'<div class="cell{"" if label else " next"}"><div class="strip">{over}</div>'
        f'<div class="see"><div class="side">{cell.number}{mark}</div>{drawing(cell.instrument)}'
        f'</div><div class="{name}">{_text(cell.name)}</div></div>'
    )


def _below(card: Card) -> str:
    passes = "".join(f"<p><b>{_text(head)}:</b> {_text(text)}</p>" for head, text in card.passes)
    products = "".join(_product(product) for product in card.products)
    warned = "".join(f'<p class="warn">{_text(text)}</p>' for text in card.warnings)
    watch = "".join(f"<p>{_text(text)}</p>" for text in card.watch)
    more = f"<p>and {card.more_cautions} more in the plan</p>" if card.more_cautions else ""
    warned = f"<h3>In this case</h3>{warned}" if warned else ""
    chosen = " · ".join(f"<b>{_text(name)}:</b> {_text(text)}" for name, text in card.chosen)
    chosen = f"<h3>For this tooth</h3><p>{chosen}</p>" if chosen else ""
    return (
        f'<div class="below"><div><h3>Hand</h3>{passes}{warned}</div>'
        f"<div><h3>Materials</h3>{products}{chosen}</div>"
        f'<div class="tight"><h3>Watch</h3>{watch}{more}</div></div>'
    )


def _product(product: Product) -> str:
    shades = f" Shades {_text(product.shades)}." if product.shades else ""
    times = " · ".join(_text(each) for each in (product.lot, *product.times))
    return (
        f"<p><b>{_text(product.name)}</b> ({_text(product.role)})"
        f"<small>{times}</small>"
        f"<small>{_text(product.storage)}{shades}</small></p>"
    )


def _pull(pull: Pull) -> str:
    blocks = []
    for heading, rows in pull.groups:
        lines = "".join(
            f'<div class="row"><b>{row.count} x</b><span>{_text(row.name)}</span></div>'
            for row in rows
        )
        blocks.append(f"<h3>{_text(heading)}</h3>{lines}")
    visits = "".join(f"<p>{_text(line)}</p>" for line in pull.visits)
    return (
        f'<section class="pull"><header><div><h1>Pull list</h1><h2>{_text(pull.title)}</h2>{visits}'
        f'</div></header><div class="rows">{"".join(blocks)}</div></section>'
    )


def _text(text: str) -> str:
    return escape(text)
