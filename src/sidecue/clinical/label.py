"""Reading the code on a package: product number, lot, expiry day and serial number.

Element strings as GS1 General Specifications lay them down (release of 2024, from memory):
application identifiers 01 (product), 10 (lot), 17 (expiry), 21 (serial). The parsing itself is
done by `biip`. A scanner types the code like a keyboard: FNC1 arrives as the group separator
(0x1D), with or without a symbology identifier in front; what people copy by hand has brackets.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import biip
from biip.gs1_messages import GS1Message

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.product_number import shown

#: How some terminals show or send the group separator.
_SEPARATORS = ("<GS>", "{GS}", "^]")
_TELLING = ("01", "10", "17", "21")
#: What the parser raises; for a lone "]" it runs off the end instead of saying so.
_BROKEN = (biip.BiipException, LookupError, ValueError)
_LONGEST = 300  # far above any printed code; a stuck key is not a scan


@dataclass(frozen=True, slots=True)
class Label:
    """What a package's code says; None where it says nothing.

    `product` is the GTIN as fourteen digits, `expiry` the last day of use.
    """

    product: str | None = None
    lot: str | None = None
    expiry: date | None = None
    serial: str | None = None


def read_label(scanned: str) -> Label:
    """Return what one scanned or copied line says.

    A day of 00 is the last day of its month. Raises ClinicalError for anything that is not such a
    code, for a wrong check digit or day, and when an identifier comes twice with different values.
    """
    text = scanned.strip(" \t\r\n")
    for sent in _SEPARATORS:
        text = text.replace(sent, "\x1d")
    if not text:
        raise _unreadable("an empty line", "nothing was scanned")
    if len(text) > _LONGEST:
        raise _unreadable(f"{len(text)} characters", "too long for a package's code")
    message = _message(text)
    found: dict[str, str] = {}
    expiry: date | None = None
    for element in message.element_strings:
        name = element.ai.ai
        if name not in _TELLING:
            continue
        if found.setdefault(name, element.value) != element.value:
            raise _unreadable(shown(text), f"({name}) comes twice and differs")
        if name == "01" and element.gtin is None:
            raise _unreadable(shown(text), "the product number's check digit does not fit")
        if name == "17":
            expiry = element.date
    if not found:
        raise _unreadable(shown(text), "names neither product, lot nor expiry")
    return Label(found.get("01"), found.get("10"), expiry, found.get("21"))


def expanded(short: str) -> str | None:
    """Return the product number that eight digits of a small package (UPC-E) stand for, as twelve
    digits; None for anything that stands for none."""
    try:
        number = biip.parse(short).gtin if short.isascii() else None
    except _BROKEN:
        return None
    return None if number is None else number.value


def _message(text: str) -> GS1Message:
    try:
        if text.startswith("("):
            return GS1Message.parse_hri(text)
        result = biip.parse(text)
    except _BROKEN as error:
        raise _unreadable(shown(text), _why(str(error))) from None
    message = result.gs1_message
    if message is not None and any(each.ai.ai in _TELLING for each in message.element_strings):
        return message
    if result.gtin is not None:  # an ordinary bar code: the product number alone
        return GS1Message.parse(f"01{result.gtin.value.zfill(14)}")
    if message is not None:
        return message
    raise _unreadable(shown(text), _why(result.gs1_message_error or ""))


def _why(told: str) -> str:
    if "(17)" in told or "^17" in told:
        return "its expiry is not a day"
    if "heck digit" in told:
        return "its check digit does not fit"
    return "not a product code with lot and expiry"


def _unreadable(what: str, why: str) -> ClinicalError:
    return ClinicalError(what, why, "scan the square code again, or type what is printed under it")
