"""Exact numbers. Doses and exposures are compared with limits, so no float error may creep in.

A decimal typed by a person (`4.4`, or the float that stands for it) means that decimal exactly.
"""

from __future__ import annotations

import math
from decimal import Decimal, InvalidOperation
from fractions import Fraction

from sidecue.clinical.errors import ClinicalError

Number = int | float | str | Decimal | Fraction

KILOGRAMS_PER_POUND = Fraction("0.45359237")  # international pound, exact by definition


def exact(value: Number, what: str) -> Fraction:
    """Return `value` as an exact fraction of its decimal writing.

    `what` names the quantity in the error. Raises ClinicalError when it is not a finite number.
    """
    if isinstance(value, Fraction):
        return value
    try:
        number = Decimal("nan" if isinstance(value, bool) else str(value).strip())
    except InvalidOperation:
        number = Decimal("nan")
    if not number.is_finite():
        raise ClinicalError(
            f"{what} {value!r}", "not a finite number", "enter it in digits, such as 2.5"
        )
    return Fraction(number)


def positive(value: Number, what: str) -> Fraction:
    """Return `value` exactly; raise ClinicalError unless it is above zero."""
    number = exact(value, what)
    if number <= 0:
        raise ClinicalError(f"{what} {value}", "must be above zero", "enter the measured value")
    return number


def not_negative(value: Number, what: str) -> Fraction:
    """Return `value` exactly; raise ClinicalError when it is below zero."""
    number = exact(value, what)
    if number < 0:
        raise ClinicalError(f"{what} {value}", "cannot be below zero", "enter the measured value")
    return number


def whole_up(value: Fraction) -> int:
    """Return the smallest whole number not below `value` (times that must be reached)."""
    return math.ceil(value)


def whole_down(value: Fraction) -> int:
    """Return the largest whole number not above `value` (amounts that must not be passed)."""
    return math.floor(value)


def plain(value: Fraction, places: int = 2) -> str:
    """Return `value` in at most `places` decimals, half rounded to even, without trailing zeros."""
    scaled = round(abs(value) * 10**places)
    digits = str(scaled).rjust(places + 1, "0")
    text = f"{digits[: len(digits) - places]}.{digits[len(digits) - places :]}"
    sign = "-" if value < 0 and scaled else ""
    return sign + text.rstrip("0").rstrip(".")
