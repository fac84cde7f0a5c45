"""Amalgam law at its date boundaries."""

from __future__ import annotations

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical import law, waste_rules
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.law import Jurisdiction, Patient, Verdict, amalgam_ruling

ADULT = Patient(age_years=40)
REGULATION = "Regulation (EU) 2017/852 art. 10"
AMENDED = "Regulation (EU) 2024/1849"


@pytest.mark.parametrize(
    ("day", "patient", "derogation", "verdict", "source"),
    [
        pytest.param("2024-12-31", ADULT, False, "permitted", AMENDED, id="oracle-28-before"),
        pytest.param(
            "2025-01-01", ADULT, False, "only if strictly necessary", AMENDED,
            id="oracle-28-after"),
        pytest.param("2026-06-30", ADULT, True, "derogation", AMENDED, id="oracle-29-before"),
        pytest.param(
            "2026-07-01", ADULT, True, "only if strictly necessary", AMENDED,
            id="oracle-29-after"),
        ("2025-01-01", ADULT, True, "derogation", AMENDED),
        ("2024-12-31", ADULT, True, "permitted", AMENDED),
        ("2018-06-30", Patient(age_years=10), False, "permitted", REGULATION),
        ("2018-07-01", Patient(age_years=10), False, "only if strictly necessary", REGULATION),
        ("2018-07-01", Patient(age_years=14), False, "only if strictly necessary", REGULATION),
        ("2018-07-01", Patient(age_years="14.9"), False, "only if strictly necessary", REGULATION),
        ("2018-07-01", Patient(age_years=15), False, "permitted", REGULATION),
        ("2018-07-01", ADULT, False, "permitted", REGULATION),
        ("2020-01-01", Patient(age_years=40, pregnant=True), False,
         "only if strictly necessary", REGULATION),
        ("2020-01-01", Patient(age_years=40, breastfeeding=True), False,
         "only if strictly necessary", REGULATION),
        ("2020-01-01", Patient(age_years=16, primary_tooth=True), False,
         "only if strictly necessary", REGULATION),
        # A protected patient stays protected in a state with the derogation.
        ("2025-06-01", Patient(age_years=12), True, "only if strictly necessary", REGULATION),
        ("2030-01-01", ADULT, False, "only if strictly necessary", AMENDED),
    ],
)  # fmt: skip
def test_european_union(
    day: str, patient: Patient, derogation: bool, verdict: str, source: str
) -> None:
    ruling = amalgam_ruling(
        Jurisdiction.EU, date.fromisoformat(day), patient, derogation_state=derogation
    )
    assert ruling.verdict.value == verdict, source


@pytest.mark.parametrize(
    ("day", "patient", "verdict"),
    [
        # Source: Commission notice C/2024/4675 of 19 July 2024; end date from memory.
        ("2024-12-31", ADULT, "permitted"),
        ("2025-01-01", ADULT, "derogation"),
        ("2034-12-31", ADULT, "derogation"),
        ("2035-01-01", ADULT, "not permitted"),
        ("2026-01-01", Patient(age_years=8), "only if strictly necessary"),
    ],
)
def test_northern_ireland(day: str, patient: Patient, verdict: str) -> None:
    ruling = amalgam_ruling(Jurisdiction.NORTHERN_IRELAND, date.fromisoformat(day), patient)
    assert ruling.verdict.value == verdict
    if ruling.verdict is Verdict.DEROGATION:
        assert "check" in ruling.text


@pytest.mark.parametrize(
    ("day", "patient", "verdict"),
    [
        # Source: US FDA, 24 September 2020: warn, do not forbid.
        ("2020-09-23", Patient(age_years=5), "permitted"),
        ("2020-09-24", Patient(age_years=5), "warn"),
        ("2025-01-01", ADULT, "permitted"),
        ("2025-01-01", Patient(age_years=12), "warn"),
        ("2025-01-01", Patient(age_years=40, pregnant=True), "warn"),
        ("2025-01-01", Patient(age_years=40, breastfeeding=True), "warn"),
        ("2025-01-01", Patient(age_years=40, kidney=True), "warn"),
        ("2025-01-01", Patient(age_years=40, neurological=True), "warn"),
        ("2025-01-01", Patient(age_years=40, metal_allergy=True), "warn"),
    ],
)
def test_united_states(day: str, patient: Patient, verdict: str) -> None:
    ruling = amalgam_ruling(Jurisdiction.US, date.fromisoformat(day), patient)
    assert ruling.verdict.value == verdict


@pytest.mark.parametrize(
    ("day", "patient", "verdict"),
    [
        # Source: Minamata COP-4 decision 4/2 (March 2022), COP-6 (November 2025).
        ("2022-03-24", Patient(age_years=10), "permitted"),
        ("2022-03-25", Patient(age_years=10), "warn"),
        ("2022-03-25", ADULT, "permitted"),
        ("2034-12-31", ADULT, "permitted"),
        ("2035-01-01", ADULT, "warn"),
    ],
)
def test_elsewhere(day: str, patient: Patient, verdict: str) -> None:
    ruling = amalgam_ruling(Jurisdiction.OTHER, date.fromisoformat(day), patient)
    assert ruling.verdict.value == verdict


def test_the_end_of_2034_is_printed_in_both_wordings() -> None:
    ruling = amalgam_ruling(Jurisdiction.EU, date(2035, 1, 1), ADULT)
    source = ruling.findings[0].source
    assert "by 2034" in source
    assert "by 1 January 2035" in source


def test_an_unknown_age_is_asked_about_not_assumed() -> None:
    ruling = amalgam_ruling(Jurisdiction.EU, date(2024, 6, 1), Patient())
    assert ruling.verdict is Verdict.WARN
    assert ruling.questions == ("Is the patient under 15?",)
    with pytest.raises(ClinicalError):
        amalgam_ruling(Jurisdiction.EU, date(2024, 6, 1), Patient(age_years=-1))


@pytest.mark.parametrize(
    ("activity", "day", "verdict"),
    [
        # Source: Regulation (EU) 2024/1849 as adopted (not the proposal).
        ("export", "2024-12-31", "permitted"), ("export", "2025-01-01", "not permitted"),
        ("import", "2026-06-30", "permitted"), ("import", "2026-07-01", "not permitted"),
        ("manufacture", "2026-06-30", "permitted"),
        ("manufacture", "2026-07-01", "not permitted"),
    ],
)  # fmt: skip
def test_supply_in_the_union(activity: str, day: str, verdict: str) -> None:
    found = law.eu_supply_verdict(law.Activity(activity), date.fromisoformat(day))
    assert found.value == verdict


@pytest.mark.parametrize(
    ("form", "day", "verdict"),
    [
        # Source: Regulation (EU) 2017/852: capsules only from 1 January 2019.
        ("bulk", "2018-12-31", "permitted"), ("bulk", "2019-01-01", "not permitted"),
        ("capsules", "2019-01-01", "permitted"),
    ],
)  # fmt: skip
def test_form_in_the_union(form: str, day: str, verdict: str) -> None:
    assert law.eu_form_verdict(form, date.fromisoformat(day)).value == verdict


def test_other_dates_of_the_union() -> None:
    # Source: OJ 10 July 2024; Regulation (EU) 2017/852 art. 10.
    assert date(2024, 7, 30) == law.EU_AMENDMENT_IN_FORCE
    assert date(2021, 1, 1) == law.EU_SEPARATORS_95_FROM


def test_oracle_30_waste_rule_dates() -> None:
    # Source: 40 CFR 441, Federal Register 14 June 2017.
    assert date(2020, 7, 14) == waste_rules.COMPLY_BY
    assert waste_rules.report_due(None) == date(2020, 10, 12)
    assert date(2017, 7, 14) == waste_rules.EFFECTIVE
    # 90 days after compliance is the same day: the rule is consistent with itself.
    assert (date(2020, 10, 12) - date(2020, 7, 14)).days == waste_rules.REPORT_NEW_DAYS
    assert waste_rules.report_due(date(2024, 1, 1)) == date(2024, 3, 31)


@pytest.mark.parametrize(
    ("percent", "fitted", "on", "accepted"),
    [
        # Source: 40 CFR 441: 95 % of ISO 11143; older ones until 14 June 2027.
        (95, "2024-01-01", "2030-01-01", True), ("94.9", "2024-01-01", "2024-06-01", False),
        (90, "2016-01-01", "2027-06-14", True), (90, "2016-01-01", "2027-06-15", False),
    ],
)  # fmt: skip
def test_separators(percent: float | str, fitted: str, on: str, accepted: bool) -> None:
    found = waste_rules.separator_accepted(
        percent=percent, fitted=date.fromisoformat(fitted), on=date.fromisoformat(on)
    )
    assert found == accepted


@pytest.mark.parametrize(
    ("ph", "oxidising", "accepted"),
    [(7, False, True), (6, False, True), (8, False, True), ("5.9", False, False),
     ("8.1", False, False), (7, True, False)],
)  # fmt: skip
def test_line_cleaners(ph: float | str, oxidising: bool, accepted: bool) -> None:
    # Source: 40 CFR 441; cda.org best management practices: pH 6-8, no oxidiser.
    assert waste_rules.line_cleaner_accepted(ph=ph, oxidising=oxidising) == accepted


STRICTNESS = [Verdict.PERMITTED, Verdict.WARN, Verdict.DEROGATION, Verdict.STRICTLY_NECESSARY,
              Verdict.NOT]  # fmt: skip


@given(
    st.sampled_from(Jurisdiction),
    st.dates(date(2015, 1, 1), date(2040, 1, 1)),
    st.dates(date(2015, 1, 1), date(2040, 1, 1)),
    st.integers(0, 99),
    st.booleans(),
)
def test_the_law_never_loosens_with_time(
    place: Jurisdiction, one: date, other: date, age: int, pregnant: bool
) -> None:
    earlier, later = sorted((one, other))
    patient = Patient(age_years=age, pregnant=pregnant)
    before = amalgam_ruling(place, earlier, patient)
    after = amalgam_ruling(place, later, patient)
    assert STRICTNESS.index(before.verdict) <= STRICTNESS.index(after.verdict)
