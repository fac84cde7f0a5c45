"""Codes on packages, as a scanner that types like a keyboard sends them.

Expected values: GS1 General Specifications, application identifiers 01, 10, 17 and 21, separator
FNC1 as 0x1D, day 00 as the last of its month (from memory); check digits worked by hand below.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
from datetime import date

import biip
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.label import Label, read_label
from sidecue.clinical.product_number import product_number

NUMBER = "09521250001056"  # 952 is the prefix for examples
WHOLE = Label(NUMBER, "BU1187", date(2035, 3, 31), "77")
LOT_LETTERS = st.text("ABCDEFGHJKLMNPRSTUVWXYZ0123456789-/.", min_size=1, max_size=20)


def check_digit(digits: str) -> str:
    """Weights three and one from the right, up to the next ten (GS1, from memory)."""
    weighed = sum(int(d) * (3 if i % 2 == 0 else 1) for i, d in enumerate(reversed(digits)))
    return str(-weighed % 10)


@pytest.mark.parametrize(
    "scanned",
    [
        f"01{NUMBER}1735033110BU1187\x1d2177",
        f"\x1d01{NUMBER}1735033110BU1187\x1d2177",
        f"]d201{NUMBER}1735033110BU1187\x1d2177",
        f"]C101{NUMBER}1735033110BU1187\x1d2177\r\n",
        f"01{NUMBER}1735033110BU1187<GS>2177",
        f"01{NUMBER}1735033110BU1187^]2177",
        f"(01){NUMBER}(17)350331(10)BU1187(21)77",
        f"10BU1187\x1d2177\x1d1735033101{NUMBER}",
    ],
)
def test_one_package_however_its_code_is_sent(scanned: str) -> None:
    assert read_label(scanned) == WHOLE


@given(LOT_LETTERS, LOT_LETTERS, st.dates(date(2026, 1, 1), date(2050, 12, 31)))
def test_what_is_printed_is_what_is_read(lot: str, serial: str, expiry: date) -> None:
    code = f"01{NUMBER}17{expiry:%y%m%d}10{lot}\x1d21{serial}"
    assert read_label(code) == Label(NUMBER, lot, expiry, serial)


@pytest.mark.parametrize(
    ("written", "day"),
    [("260200", date(2026, 2, 28)), ("280200", date(2028, 2, 29)), ("261231", date(2026, 12, 31))],
)
def test_day_zero_is_the_last_of_the_month(written: str, day: date) -> None:
    assert read_label(f"01{NUMBER}17{written}").expiry == day


def test_an_ordinary_bar_code_gives_the_product_alone() -> None:
    assert read_label("9521250001056") == Label(product=NUMBER)


@pytest.mark.parametrize(
    ("scanned", "why"),
    [
        ("", "nothing was scanned"),
        ("hello", "not a product code"),
        ("BU1187", "not a product code"),
        ("01" + NUMBER[:-1] + "7" + "10A", "check digit"),
        (f"01{NUMBER}17261331", "not a day"),
        (f"01{NUMBER}17260231", "not a day"),
        (f"01{NUMBER}1726", "not a day"),
        (f"(01){NUMBER}(10)A(10)B", "comes twice"),
        (f"(01){NUMBER}(0999)x", "not a product code"),
        ("3" * 5000, "too long"),
    ],
)
def test_what_is_no_such_code_is_refused_with_a_reason(scanned: str, why: str) -> None:
    with pytest.raises(ClinicalError, match=why) as caught:
        read_label(scanned)
    assert "\n" not in str(caught.value)
    assert caught.value.mend


@given(st.text(max_size=60))
def test_no_text_at_all_breaks_the_reader(text: str) -> None:
    found = None
    with contextlib.suppress(ClinicalError):
        found = read_label(text)
    assert found != Label(), "a label that says nothing is no label"


@given(st.integers(0, 10**12 - 1))
def test_a_product_number_counts_only_with_its_check_digit(number: int) -> None:
    body = f"{number:012d}"
    right = check_digit(body)
    if not body.startswith("0"):
        assert product_number(body + right) == f"0{body}{right}"
    wrong = str((int(right) + 1) % 10)
    with pytest.raises(ClinicalError):
        product_number(body + wrong)


@given(st.integers(0, 10**13 - 1), st.sampled_from((12, 13, 14)))
def test_what_counts_as_a_product_number_is_what_another_reader_counts_as_one(
    number: int, length: int
) -> None:
    """`biip` works the digit out by itself; it reads whole codes here and lends no hand else."""
    written = f"{number:013d}"[: length - 1]
    written += check_digit(written)
    theirs = biip.parse(written).gtin
    assert theirs is not None
    assert product_number(written) == theirs.value.zfill(14)


@pytest.mark.parametrize(
    ("written", "number"),
    [
        ("9 521250 001056", NUMBER),  # as it is printed
        ("09521250001056", NUMBER),
        ("9638-5074", "00000096385074"),  # the usual example of GTIN-8, from memory
        ("04252614", "00042100005264"),  # the usual example of UPC-E, from memory
    ],
)
def test_a_product_number_as_people_copy_it(written: str, number: str) -> None:
    assert product_number(written) == number


@pytest.mark.parametrize("written", ["", "1701887", "95212500010a6", "٩٥٢١٢٥٠٠٠١٠٥٦", "9" * 40])
def test_what_is_no_product_number_is_told_with_its_mend(written: str) -> None:
    with pytest.raises(ClinicalError, match="not 8, 12, 13 or 14 digits") as caught:
        product_number(written)
    assert caught.value.mend == "copy it from under the bar code"


def test_a_visit_never_loads_the_reader_of_whole_codes() -> None:
    code = (
        "import sidecue.cli.run_command, sys; from sidecue.assets import data_folder;"
        "from sidecue.procedure.loading import load_library; load_library(data_folder('flows'));"
        "sys.exit('biip' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
