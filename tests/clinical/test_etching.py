"""Etch, rinse and bond times by mode."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical import etching
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.etching import AdhesiveMode, TimeBounds

NOTES = "scribd 431071973, etching notes"
TABLE = "ACS Omega 2021, PMC8158842, table 4"


@pytest.mark.parametrize(
    ("bounds", "least", "most", "source"),
    [
        (etching.enamel_bounds(AdhesiveMode.TOTAL_ETCH), 15, 30, NOTES),
        (etching.dentine_bounds(AdhesiveMode.TOTAL_ETCH), None, 15, NOTES),
        (etching.dentine_bounds(AdhesiveMode.TOTAL_ETCH, sclerotic=True), None, 30, NOTES),
        (etching.enamel_bounds(AdhesiveMode.SELECTIVE_ETCH), 15, 15, "teaching page (web)"),
        (etching.SCRUB, 10, 20, TABLE),
        (etching.AIR_THIN, 5, 10, TABLE),
        (etching.PRIMER, 20, None, TABLE),
        (etching.CONDITIONER, 10, 20, "teaching page on glass ionomer (web)"),
    ],
)
def test_bounds(bounds: TimeBounds, least: int | None, most: int | None, source: str) -> None:
    assert (bounds.least, bounds.most) == (least, most), source


def test_modes_leave_acid_off() -> None:
    # Source: teaching page (web) for selective; ACS Omega 2021 table 4 for self-etch.
    assert etching.dentine_bounds(AdhesiveMode.SELECTIVE_ETCH) is None
    assert etching.dentine_bounds(AdhesiveMode.SELF_ETCH) is None
    assert etching.enamel_bounds(AdhesiveMode.SELF_ETCH) is None


@pytest.mark.parametrize(
    ("mode", "rinsed"),
    [
        # Source: ACS Omega 2021, PMC8158842, table 4.
        pytest.param("self-etch", False, id="oracle-20"),
        ("total-etch", True),
        ("selective-etch", True),
    ],
)
def test_which_modes_rinse(mode: str, rinsed: bool) -> None:
    assert etching.acid_is_rinsed(AdhesiveMode(mode)) == rinsed


@pytest.mark.parametrize(
    ("seconds", "sclerotic", "overdue"),
    [
        # Source: scribd 431071973: at most 15 s, sclerotic up to 30 s.
        pytest.param(16, False, True, id="oracle-17"),
        pytest.param(15, False, False, id="oracle-17-at-the-limit"),
        ("15.1", False, True), (16, True, False), (30, True, False), (31, True, True),
    ],
)  # fmt: skip
def test_dentine_overdue(seconds: float | str, sclerotic: bool, overdue: bool) -> None:
    assert etching.dentine_overdue(seconds, sclerotic=sclerotic) == overdue


@pytest.mark.parametrize(
    ("etched", "least"),
    [
        # Source: ACS Omega 2021 table 4; scribd 431071973: as long as the etch, typically 15 s.
        pytest.param(15, 15, id="oracle-18"),
        (5, 15), (30, 30), (20, 20),
    ],
)  # fmt: skip
def test_rinse_lasts_at_least_as_long_as_the_etch(etched: int, least: int) -> None:
    assert etching.rinse_least(etched) == least


@pytest.mark.parametrize(
    ("bonded", "mode", "resumes"),
    [
        # Source: mightytoothcurriculum.com module 4; dentalcare.com ce128.
        pytest.param(False, "total-etch", "etch", id="oracle-19"),
        (False, "selective-etch", "etch"),
        (False, "self-etch", "prime"),
        (True, "total-etch", None),
    ],
)
def test_saliva_sends_back_until_bonded(bonded: bool, mode: str, resumes: str | None) -> None:
    assert etching.back_to_after_saliva(bonded=bonded, mode=AdhesiveMode(mode)) == resumes


def test_an_instructions_time_out_of_the_usual_range_is_warned_about() -> None:
    assert etching.check_time("enamel etch", 20, etching.ENAMEL) == ()
    assert etching.check_time("enamel etch", 10, etching.ENAMEL)
    assert etching.check_time("enamel etch", 31, etching.ENAMEL)
    assert etching.check_time("dentine etch", 20, etching.DENTINE)
    assert etching.check_time("enamel etch", 60, etching.PRIMARY_ENAMEL) == ()
    with pytest.raises(ClinicalError):
        etching.check_time("rinse", 0, etching.SCRUB)


@pytest.mark.parametrize(
    ("given", "bounds", "told"),
    [
        (10, etching.ENAMEL, "usual is 15 to 30 s"),
        (20, etching.DENTINE, "usual is at most 15 s"),
        (10, etching.PRIMER, "usual is at least 20 s"),
        (20, etching.SELECTIVE_ENAMEL, "usual is 15 s:"),
    ],
)
def test_the_warning_tells_the_usual_time(
    given: int, bounds: etching.TimeBounds, told: str
) -> None:
    (found,) = etching.check_time("etch", given, bounds)
    assert told in found.text


def test_cautions_about_tooth_and_acid() -> None:
    # Sources: scribd 431071973 (30-40 %); bleaching and primary teeth as in the module.
    assert etching.acid_percent_findings(37) == ()
    assert etching.acid_percent_findings(50)
    with pytest.raises(ClinicalError):
        etching.acid_percent_findings(370)
    assert etching.bleaching_findings(bleached=True)
    assert etching.bleaching_findings(bleached=False) == ()
    assert etching.primary_findings(primary=True)
    assert etching.primary_findings(primary=False) == ()


@given(st.integers(0, 600), st.integers(0, 600))
def test_a_longer_etch_never_shortens_the_rinse(one: int, other: int) -> None:
    shorter, longer = sorted((one, other))
    assert etching.rinse_least(shorter) <= etching.rinse_least(longer)
    assert etching.rinse_least(longer) >= longer
