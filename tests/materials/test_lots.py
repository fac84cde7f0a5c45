"""Lots: the good one that expires first is taken; expired and recalled ones block the plan.

Expected values: a use-by day is the last day of use (GS1 General Specifications 17 and ISO 15223-1,
from memory); first expiring, first used (common practice, no source).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipped_library import shipped
from sidecue.clinical.stock import Lot, choose_lot, refusal
from sidecue.procedure.library import Library
from sidecue.procedure.loading import case_from, load_practice
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.source import LoadError

DAY = date(2026, 3, 31)
SEALANT = {"tooth": "36", "surfaces": "O", "material": "sealant", "isolation": "rolls"}


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped()


def sealant(library: Library, lots: tuple[Lot, ...], on: date | None = DAY, **more: str) -> Plan:
    office = library.practices["example"]
    stocked = tuple(
        replace(each, lots=lots) if each.role == "sealant" else each for each in office.materials
    )
    case = case_from({**SEALANT, **more}, "iso")
    return plan(library, "fissure-sealant", case, replace(office, materials=stocked), on)


def numbed(library: Library, anaesthetic: str, **lots: tuple[Lot, ...]) -> Plan:
    """An occlusal composite with an anaesthetic; `lots` by the first word of the solution."""
    office = library.practices["example"]
    stocked = tuple(
        replace(each, lots=lots.get(each.kind.split("-")[0], each.lots))
        for each in office.cartridges
    )
    entry = {"tooth": "46", "surfaces": "O", "material": "composite", "isolation": "dam",
             "depth-mm": 2, "anaesthetic": anaesthetic}  # fmt: skip
    office = replace(office, cartridges=stocked)
    return plan(library, "composite-class-1", case_from(entry, "iso"), office, DAY)


EXPIRED = (Lot("OLD", date(2026, 3, 30)),)
RECALLED = (Lot("BAD", date(2035, 1, 1), "particles seen"),)


@pytest.mark.parametrize(
    ("anaesthetic", "lots", "told"),
    [
        # A use-by day is the last day of use (GS1 General Specifications, from memory); a cartridge
        # is no exception.
        ("lidocaine-epinephrine-100k", {"lidocaine": EXPIRED}, "lot OLD: expired on 2026-03-30"),
        ("lidocaine", {"lidocaine": RECALLED}, "recalled (particles seen)"),
        ("lidocaine-epinephrine-100k", {"articaine": EXPIRED}, None),  # not for this patient
        ("none", {"lidocaine": EXPIRED}, None),
    ],
)
def test_an_expired_or_recalled_cartridge_refuses_the_plan(
    library: Library, anaesthetic: str, lots: dict[str, tuple[Lot, ...]], told: str | None
) -> None:
    found = numbed(library, anaesthetic, **lots)
    assert [told in each.text for each in found.blocks] == ([] if told is None else [True])


def test_the_lot_of_the_cartridge_is_in_the_plan_to_be_read_out(library: Library) -> None:
    found = numbed(library, "articaine")
    (cartridge,) = [each for each in found.materials if each.role == "anaesthetic"]
    assert (cartridge.product, cartridge.lot) == ("Stillmere Four", "S47302")
    assert [m for m in numbed(library, "none").materials if m.role == "anaesthetic"] == []


@pytest.mark.parametrize(
    ("expiry", "usable"),
    [
        (DAY - timedelta(days=1), False),
        (DAY, True),
        (DAY + timedelta(days=1), True),
        (None, True),
    ],
)
def test_the_use_by_day_is_the_last_day(expiry: date | None, usable: bool) -> None:
    assert (refusal("Sealant", Lot("A", expiry), DAY) is None) is usable


def test_an_expired_lot_blocks_the_plan_and_says_why(library: Library) -> None:
    found = sealant(library, (Lot("TS1", date(2026, 3, 30)),))
    assert not found.startable
    (block,) = found.blocks
    assert "lot TS1" in block.text
    assert "expired on 2026-03-30" in block.text
    assert "GS1" in block.source


def test_the_day_of_the_case_counts_before_today(library: Library) -> None:
    lot = (Lot("TS1", date(2026, 6, 30)),)
    assert sealant(library, lot, on=date(2030, 1, 1), date="2026-06-30").startable
    assert not sealant(library, lot, on=date(2026, 1, 1), date="2026-07-01").startable


def test_a_recalled_lot_blocks_whatever_its_day(library: Library) -> None:
    recalled = Lot("TS1", date(2035, 1, 1), "does not set in the cold")
    found = sealant(library, (recalled,), on=None)
    assert not found.startable
    assert "recalled (does not set in the cold)" in found.blocks[0].text


def test_a_good_lot_beside_a_bad_one_goes_on_with_a_warning(library: Library) -> None:
    lots = (
        Lot("OLD", date(2026, 1, 1)),
        Lot("LATE", date(2028, 1, 1)),
        Lot("SOON", date(2027, 1, 1)),
    )
    found = sealant(library, lots)
    assert found.startable
    assert [m.lot for m in found.materials if m.role == "sealant"] == ["SOON"]
    assert [m.expiry for m in found.materials if m.role == "sealant"] == ["2027-01-01"]
    assert any("lot OLD: expired" in warning.text for warning in found.warnings)


def test_a_lot_in_its_last_month_is_told(library: Library) -> None:
    found = sealant(library, (Lot("TS1", DAY + timedelta(days=30)),))
    assert found.startable
    assert any("last day of use 2026-04-30" in warning.text for warning in found.warnings)


@given(
    st.lists(
        st.builds(
            Lot,
            st.text("ABC123", min_size=1, max_size=4),
            st.none() | st.dates(date(2025, 1, 1), date(2027, 12, 31)),
            st.sampled_from(["", "", "", "leaks"]),
        ),
        max_size=6,
    )
)
def test_a_bad_lot_is_never_taken_and_a_good_one_never_refused(lots: list[Lot]) -> None:
    choice = choose_lot("Sealant", lots, DAY)
    good = [lot for lot in lots if refusal("Sealant", lot, DAY) is None]
    if not good:
        assert choice.lot is None
        assert len(choice.findings) == len(lots)
    else:
        assert choice.lot in good
        dated = [lot.expiry for lot in good if lot.expiry is not None]
        if dated:
            assert choice.lot is not None
            assert choice.lot.expiry == min(dated)


OFFICE = """\
practice: Elmhollow Dental Room
notation: iso
jurisdiction: other
adhesive: total-etch
light: {product: Lumipin 3, irradiance: 1000}
materials:
  - role: sealant
    product: Tidewall Sealant
    kind: resin
    times: {cure: 20 s}
    numbers: {target-joules-per-cm2: 16}
"""


@pytest.mark.parametrize(
    ("extra", "line", "told"),
    [
        ("    product-number: 9521250001057\n", 12, "check digit"),
        ("    product-number: 12\n", 12, "8, 12, 13 or 14 digits"),
        ("    lots: [{lot: A, expiry: 2026-02-30}]\n", 12, "not a day"),
        ("    lots: [{lot: A, expiry: 03/2026}]\n", 12, "2027-03-31"),
        ("    lots: [{lot: A}, {lot: A}]\n", 12, "twice"),
        ("    lots: [{lot: 7.10}]\n", 12, "quotes"),
        ("    lots: [{expiry: 2026-01-31}]\n", 12, "missing"),
        ("    supply: bulk\n", 12, "only amalgam"),
        ("  - {role: cleaning-paste, product: Fig Paste, kind: oilly}\n", 12, "oily"),
    ],
)
def test_what_is_wrong_with_lots_is_told_by_its_line(
    tmp_path, library: Library, extra: str, line: int, told: str
) -> None:
    path = tmp_path / "office.yaml"
    path.write_text(OFFICE + extra)
    with pytest.raises(LoadError) as caught:
        load_practice(path, library)
    (fault,) = caught.value.faults
    assert fault.line == line
    assert told in str(fault)


def test_a_quoted_lot_keeps_its_last_nought(tmp_path, library: Library) -> None:
    path = tmp_path / "office.yaml"
    path.write_text(OFFICE + '    lots: [{lot: "7.10", expiry: 2035-01-31}]\n')
    office: Practice = load_practice(path, library)
    assert [lot.number for lot in office.materials[0].lots] == ["7.10"]
