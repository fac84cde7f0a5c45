"""Rubber dam."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical import isolation
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.eruption import mixed_findings
from sidecue.clinical.finding import Severity, blocks
from sidecue.clinical.isolation import ClampFamily, dam_plan
from sidecue.clinical.quantity import Number
from sidecue.clinical.teeth import ALL_TEETH, Tooth


@pytest.mark.parametrize(
    ("iso", "anchor"),
    [
        # Source: continuing-education article on the dam, August 2024, and from memory: one
        # distal to the treated tooth.
        (46, 47), (16, 17), (14, 15), (35, 36), (47, 47), (48, 48), (84, 85), (75, 75),
        # Anterior: premolar to premolar (from memory).
        (11, 14), (43, 44), (51, 54),
    ],
)  # fmt: skip
def test_anchor(iso: int, anchor: int) -> None:
    assert dam_plan(Tooth(iso)).anchor == Tooth(anchor)


@pytest.mark.parametrize(
    ("iso", "isolated"),
    [
        # Source: same article; posterior commonly to the opposite lateral (from memory).
        (46, [47, 46, 45, 44, 43, 42, 41, 31, 32]),
        (24, [25, 24, 23, 22, 21, 11, 12]),
        (11, [14, 13, 12, 11, 21, 22, 23, 24]),
        (42, [44, 43, 42, 41, 31, 32, 33, 34]),
        (84, [85, 84, 83, 82, 81, 71, 72]),
    ],
)
def test_teeth_through_the_dam(iso: int, isolated: list[int]) -> None:
    assert [tooth.iso for tooth in dam_plan(Tooth(iso)).isolated] == isolated


@pytest.mark.parametrize(
    ("iso", "age", "isolated"),
    [
        # Eruption chart of a national dental association (from memory), its later figures: lower
        # incisors 7 and 8, canine 10, premolars 12; upper 8, 9, 12, 11, 12; first molars 7, second
        # molars 13. Before that the primary tooth stands there, and behind the first molar none.
        (36, 8, [36, 75, 74, 73, 32, 31, 41, 42]),
        (16, 8, [16, 55, 54, 53, 52, 11, 21, 62]),
        (36, 11, [36, 75, 74, 33, 32, 31, 41, 42]),
        (36, 12, [36, 35, 34, 33, 32, 31, 41, 42]),
        (36, 13, [37, 36, 35, 34, 33, 32, 31, 41, 42]),
        (75, 5, [75, 74, 73, 72, 71, 81, 82]),
        (75, 8, [75, 74, 73, 32, 31, 41, 42]),
        (11, 8, [54, 53, 52, 11, 21, 62, 63, 64]),
    ],
)  # fmt: skip
def test_a_childs_dam_shows_the_teeth_that_stand_there(
    iso: int, age: int, isolated: list[int]
) -> None:
    plan = dam_plan(Tooth(iso), age_years=age)
    assert [tooth.iso for tooth in plan.isolated] == isolated
    assert plan.anchor == Tooth(isolated[0])


@pytest.mark.parametrize(
    ("age", "warned"), [(None, False), (6, True), ("12.9", True), (13, False), (40, False)]
)
def test_teeth_by_age_are_only_usual(age: Number | None, warned: bool) -> None:
    # Same chart: the last of these teeth, the second molars, by thirteen.
    assert bool(mixed_findings(age)) is warned


def test_holes_by_tooth() -> None:
    # Source: assisting textbooks (from memory): 1 lower incisors, 2 upper incisors, 3 canines and
    # premolars, 4 molars, 5 anchor.
    assert dam_plan(Tooth(46)).holes == (5, 4, 3, 3, 3, 1, 1, 1, 1)
    assert dam_plan(Tooth(11)).holes == (5, 3, 2, 2, 2, 2, 3, 3)


def test_a_missing_tooth_is_passed_over() -> None:
    plan = dam_plan(Tooth(46), missing={Tooth(47), Tooth(44)})
    assert plan.anchor == Tooth(46)
    assert [tooth.iso for tooth in plan.isolated] == [46, 45, 43, 42, 41, 31, 32]
    assert dam_plan(Tooth(11), missing={Tooth(14)}).anchor == Tooth(13)
    with pytest.raises(ClinicalError):
        dam_plan(Tooth(46), missing={Tooth(46)})


@pytest.mark.parametrize(
    ("number", "family"),
    [
        # Source: allendodontics.blogspot.com (8A, 1, 0/00); the rest from memory.
        ("8A", "molar"), ("7", "molar"), ("14a", "molar"), ("56", "molar"), ("200", "molar"),
        ("205", "molar"), ("W8A", "molar"), ("0", "premolar"), ("00", "premolar"),
        ("1", "premolar"), ("2A", "premolar"), ("W2", "premolar"), ("206", "premolar"),
        ("209", "premolar"), ("9", "cervical"), ("210", "cervical"), ("212", "cervical"),
    ],
)  # fmt: skip
def test_clamp_family(number: str, family: str) -> None:
    assert isolation.clamp_family(number) is ClampFamily(family)


@pytest.mark.parametrize(
    ("number", "iso", "class_five", "asks"),
    [
        # Source: clamp numbers, allendodontics.blogspot.com and from memory.
        ("212", 46, False, True),
        ("212", 46, True, True),
        ("212", 34, True, False),
        ("212", 34, False, True),
        ("212", 11, True, False),
        ("8A", 47, False, False),
        ("8A", 14, False, True),
        ("2", 14, False, False),
        ("2", 46, False, True),
        ("999", 46, False, True),
    ],
)
def test_a_clamp_that_does_not_fit_is_queried(
    number: str, iso: int, class_five: bool, asks: bool
) -> None:
    found = isolation.check_clamp(number, Tooth(iso), class_five=class_five)
    assert [finding.severity for finding in found] == [Severity.QUERY] * asks


def test_oracle_12_no_clamp_without_floss() -> None:
    # Source: allendodontics.blogspot.com (50 cm); 18 in from memory.
    assert blocks(isolation.check_ligature(tied=False))
    assert isolation.check_ligature(tied=True) == ()
    assert isolation.LIGATURE_CM[0] <= 18 * 2.54 <= isolation.LIGATURE_CM[1]


def test_oracle_13_a_lost_clamp_is_referred_however_the_patient_feels() -> None:
    # Source: Gen Dent 2008;56:691 (PMID 19014028).
    assert isolation.referral_needed(whole_object_found=False)
    assert not isolation.referral_needed(whole_object_found=True)


def test_oracle_14_latex_allergy_means_a_non_latex_sheet() -> None:
    # Source: CDC MMWR 52(RR-17), 2003 (from memory).
    assert blocks(isolation.check_sheet("latex", latex_allergy=True))
    assert isolation.check_sheet("non-latex", latex_allergy=True) == ()
    assert isolation.check_sheet("latex", latex_allergy=False) == ()
    with pytest.raises(ClinicalError):
        isolation.check_sheet("rubber", latex_allergy=True)


def test_breathing_forbids_or_qualifies_the_dam() -> None:
    # Source: dam guidance (from memory).
    assert blocks(isolation.breathing_findings(mouth_breather=True, asthma=False))
    asthma = isolation.breathing_findings(mouth_breather=False, asthma=True)
    assert [finding.severity for finding in asthma] == [Severity.WARN]
    assert isolation.breathing_findings(mouth_breather=False, asthma=False) == ()


def test_holes_are_a_quarter_inch_apart() -> None:
    # Source: dentistryiq.com 2003: at least a quarter of an inch (6 mm).
    assert round(25.4 / 4) == isolation.HOLE_SPACING_MM


@given(
    st.sampled_from(ALL_TEETH),
    st.sets(st.sampled_from(ALL_TEETH), max_size=6),
    st.one_of(st.none(), st.integers(0, 99)),
)
def test_every_dam_shows_the_treated_tooth_and_the_anchor(
    tooth: Tooth, missing: set[Tooth], age: int | None
) -> None:
    plan = dam_plan(tooth, missing=missing - {tooth}, age_years=age)
    assert tooth in plan.isolated
    assert plan.isolated[0] == plan.anchor
    assert plan.holes[0] == 5
    assert len(plan.holes) == len(plan.isolated)
    assert all(each.arch == tooth.arch for each in plan.isolated)
    assert not set(plan.isolated) & (missing - {tooth})


@given(st.sampled_from([tooth for tooth in ALL_TEETH if tooth.posterior]))
def test_posterior_dam_shows_at_least_three_teeth(tooth: Tooth) -> None:
    assert len(dam_plan(tooth).isolated) >= isolation.FEWEST_POSTERIOR
