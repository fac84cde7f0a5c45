"""The practice's products as a sheet: times with what they mean, lots, shades, storage."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from rich.console import Group, RenderableType
from rich.text import Text

from sidecue.board.tray_card import lasts
from sidecue.clinical.stock import refusal
from sidecue.procedure.practice import Material, Practice


def materials_sheet(
    practice: Practice, meanings: Mapping[str, tuple[str, ...]], on: date
) -> RenderableType:
    """Return every product of a practice; lots are judged on the day `on`."""
    parts: list[RenderableType] = [Text(practice.name, style="bold")]
    measured = practice.irradiance
    output = "NOT MEASURED" if measured is None else f"{measured:g} mW/cm2 by the meter"
    parts.append(Text(f"{practice.light}: {output}"))
    for product in practice.stock:
        parts += [Text(f"\n{product.product}", style="bold")]
        parts += [Text(f"  {line}") for line in _lines(product, meanings, on)]
    return Group(*parts)


def _lines(product: Material, meanings: Mapping[str, tuple[str, ...]], on: date) -> list[str]:
    lines = [f"{product.role.replace('-', ' ')}, {product.kind.replace('-', ' ')}"]
    for name, seconds in product.times.items():
        time = "MISSING" if seconds is None else lasts(seconds)
        told = "; ".join(meanings.get(f"{product.role}.{name}", ("not used by any procedure",)))
        lines.append(f"{name.replace('-', ' ')} {time} ({told})")
    lines += [f"{name.replace('-', ' ')} {value:g}" for name, value in product.numbers.items()]
    for lot in product.lots:
        bad = refusal(product.product, lot, on)
        expiry = "expiry not entered" if lot.expiry is None else f"to {lot.expiry.isoformat()}"
        state = "" if bad is None else f": {bad.text.partition(': ')[2].upper()}"
        lines.append(f"lot {lot.number}, {expiry}{state}")
    if not product.lots:
        lines.append("no lot entered")
    if product.shades:
        lines.append(f"shades {' '.join(product.shades)}")
    if product.storage:
        lines.append(product.storage)
    if product.notes:
        lines.append(product.notes)
    return lines
