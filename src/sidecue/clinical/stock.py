"""Lots in the drawer: which one may be used on a day, and why another may not.

A use-by day is the last day of use (GS1 General Specifications, identifier 17; device labelling
standard ISO 15223-1; both from memory). A recalled lot is set aside whatever its day. The lot that
expires first is used first (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from sidecue.clinical.finding import Finding, block, warn

EXPIRY_SOURCE = "GS1 General Specifications, use-by day (from memory)"
RECALL_SOURCE = "the practice's own list of recalled lots"
SOON = timedelta(days=30)  # common practice, no source


@dataclass(frozen=True, slots=True)
class Lot:
    """One lot of a product. `expiry` is the last day of use; `recalled` says why, or is empty."""

    number: str
    expiry: date | None = None
    recalled: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """The lot to use, None when there is none to name, and what must be told."""

    lot: Lot | None
    findings: tuple[Finding, ...] = ()


def refusal(product: str, lot: Lot, on: date | None) -> Finding | None:
    """Return why `lot` may not be used on the day `on`; None when it may.

    Without a day only a recall is known.
    """
    if lot.recalled:
        why = lot.recalled.rstrip(".")
        return block(f"{product}, lot {lot.number}: recalled ({why}); set it aside", RECALL_SOURCE)
    if on is not None and lot.expiry is not None and lot.expiry < on:
        day = lot.expiry.isoformat()
        return block(f"{product}, lot {lot.number}: expired on {day}; set it aside", EXPIRY_SOURCE)
    return None


def choose_lot(product: str, lots: Iterable[Lot], on: date | None) -> Choice:
    """Return the good lot that expires first, and a finding for each that may not be used.

    Those are refusals only when no good lot is left; otherwise cautions to clear the drawer. A
    product without listed lots is not judged.
    """
    good: list[Lot] = []
    refused: list[Finding] = []
    for lot in lots:
        reason = refusal(product, lot, on)
        if reason is None:
            good.append(lot)
        else:
            refused.append(reason)
    if not good:
        return Choice(None, tuple(refused))
    chosen = min(good, key=lambda lot: (lot.expiry is None, lot.expiry or date.max))
    told = [warn(each.text, each.source) for each in refused]
    if on is not None and chosen.expiry is not None and chosen.expiry - on <= SOON:
        day = chosen.expiry.isoformat()
        told.append(warn(f"{product}, lot {chosen.number}: last day of use {day}", EXPIRY_SOURCE))
    return Choice(chosen, tuple(told))
