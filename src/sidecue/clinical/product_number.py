"""The number of a product (GTIN), as it stands in a practice's file or under a bar code.

The check digit is worked out by `stdnum`, which loads what it would go online with, so it is loaded
where there is a number. What reads whole codes (`label`) brings tables of ten megabytes and more,
so it is asked only where these digits alone are no number.
"""

from __future__ import annotations

from sidecue.clinical.errors import ClinicalError

_SHORT = 8  # digits


def product_number(written: str) -> str:
    """Return a product number (GTIN of 8, 12, 13 or 14 digits, spaces between them or none) as
    fourteen digits.

    Raises ClinicalError for another length or a wrong check digit.
    """
    from stdnum import ean

    digits = ean.compact(written)
    if not digits.isascii() or not ean.is_valid(digits):
        digits = _expanded(digits) or ""
    if not digits:
        raise ClinicalError(
            f"product number {shown(written)}",
            "not 8, 12, 13 or 14 digits with a fitting check digit",
            "copy it from under the bar code",
        )
    return digits.zfill(14)


def _expanded(digits: str) -> str | None:
    if len(digits) != _SHORT or not digits.isdigit():
        return None
    from sidecue.clinical.label import expanded

    return expanded(digits)


def shown(text: str) -> str:
    """Return what was scanned or written, in quotes and not too long for a line."""
    plain = text.replace("\x1d", "<GS>")
    return repr(plain if len(plain) <= 60 else plain[:57] + "...")
