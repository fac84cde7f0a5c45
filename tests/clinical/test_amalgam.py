"""Amalgam handling."""

from __future__ import annotations

from fractions import Fraction

import pytest

from sidecue.clinical import amalgam
from sidecue.clinical.amalgam import Alloy
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import blocks


@pytest.mark.parametrize(
    ("spills", "milligrams"),
    [
        # Source: capsule data page (web); 600 mg also dentistry.uiowa.edu.
        pytest.param(2, 600, id="oracle-27"),
        ("0.5", 200), (0.5, 200), (1, 400), (3, 800),
    ],
)  # fmt: skip
def test_spills(spills: float | str, milligrams: int) -> None:
    assert amalgam.spill_mg(spills) == milligrams


@pytest.mark.parametrize("spills", [0, 4, "1.5", -1])
def test_no_such_spill(spills: float | str) -> None:
    with pytest.raises(ClinicalError):
        amalgam.spill_mg(spills)


@pytest.mark.parametrize(
    ("surfaces", "capsules"), [(1, (1,)), (2, (2,)), (3, (3,)), (4, (3, 1)), (5, (3, 2))]
)
def test_capsules_by_surfaces(surfaces: int, capsules: tuple[int, ...]) -> None:
    # Common practice, no source.
    assert amalgam.capsules_for(surfaces) == capsules


def test_more_surfaces_never_take_less_alloy() -> None:
    totals = [sum(map(amalgam.spill_mg, amalgam.capsules_for(n))) for n in range(1, 6)]
    assert totals == sorted(totals)
    with pytest.raises(ClinicalError):
        amalgam.capsules_for(6)


@pytest.mark.parametrize(
    ("alloy", "seconds", "over"),
    [
        # Source: dentistry.uiowa.edu, dental amalgam: 3 min spherical, 3.5 min admixed.
        pytest.param("admixed", 211, True, id="oracle-25"),
        ("admixed", 210, False), ("spherical", 180, False), ("spherical", 181, True),
    ],
)  # fmt: skip
def test_working_time(alloy: str, seconds: int, over: bool) -> None:
    assert amalgam.work_over(Alloy(alloy), seconds) == over


@pytest.mark.parametrize(
    ("alloy", "least", "most"), [("spherical", 120, 210), ("admixed", 270, None)]
)
def test_carving_time(alloy: str, least: int, most: int | None) -> None:
    # Source: dentistry.uiowa.edu, dental amalgam: 2-3.5 min fast spherical, 4.5 min admixed.
    handling = amalgam.HANDLING[Alloy(alloy)]
    assert (handling.carve_least_s, handling.carve_most_s) == (least, most)


def test_condensing_force_is_five_to_ten_pounds_for_admixed() -> None:
    # Source: dentistry.uiowa.edu, dental amalgam: 5-10 lb.
    newtons = tuple(round(pounds * 4.44822) for pounds in (5, 10))
    assert newtons == (22, 44)
    least, most = amalgam.HANDLING[Alloy.ADMIXED].force_newtons or (0, 0)
    assert abs(least - newtons[0]) <= 1
    assert abs(most - newtons[1]) <= 1


def test_strength_share_after_one_hour() -> None:
    # Source: ISO 24234:2015 values on a capsule data page: 100 of 350 MPa, 29 %.
    assert amalgam.one_hour_strength_share() == Fraction(2, 7)
    assert round(100 * amalgam.one_hour_strength_share()) == 29
    assert amalgam.meets_iso_24234(one_hour_mpa=100, day_mpa=350)
    assert not amalgam.meets_iso_24234(one_hour_mpa=99, day_mpa=400)
    assert not amalgam.meets_iso_24234(one_hour_mpa=120, day_mpa=349)


def test_bulk_mercury_is_refused() -> None:
    # Source: ISO 24234:2015 scope, iTeh preview.
    assert blocks(amalgam.check_supply("bulk"))
    assert amalgam.check_supply("capsules") == ()
    assert amalgam.check_supply("one-mix-sachets") == ()
    with pytest.raises(ClinicalError):
        amalgam.check_supply("bottle")
