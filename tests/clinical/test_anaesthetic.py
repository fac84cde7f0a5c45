"""Cartridge contents and published limits."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical.anaesthetic import (
    CARTRIDGE_ML,
    SOLUTIONS,
    Solution,
    mg_per_cartridge,
    solution_named,
    ug_per_cartridge,
)
from sidecue.clinical.dose_limits import (
    Limit,
    Person,
    RuleSet,
    Weight,
    drug_limit_mg,
    limit_for,
    solution_findings,
    vasoconstrictor_limit_ug,
)
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import blocks
from sidecue.clinical.quantity import Number, plain

LIDOCAINE = "lidocaine-epinephrine-100k"
ARTICAINE = "articaine-epinephrine-100k"
DOSE_TABLES = "html5.dcatalog.com p27-29, published dose tables"


def kg(weight: Number, **others: Any) -> Person:
    return Person(Weight.in_kg(weight), **others)


def pounds(weight: Number) -> Person:
    return Person(Weight.in_pounds(weight))


@pytest.mark.parametrize(
    ("solution", "small", "medium", "large"),
    [
        # Source: html5.dcatalog.com p27-29 (1.7 and 1.8 mL); Australian table (2.2 mL).
        ("lidocaine-epinephrine-100k", "34", "36", "44"),
        ("articaine-epinephrine-100k", "68", "72", "88"),
        ("articaine-epinephrine-200k", "68", "72", "88"),
        ("mepivacaine-plain", "51", "54", "66"),
        ("mepivacaine-levonordefrin-20k", "34", "36", "44"),
        ("prilocaine-plain", "68", "72", "88"),
        ("prilocaine-epinephrine-200k", "68", "72", "88"),
        ("bupivacaine-epinephrine-200k", "8.5", "9", "11"),
    ],
)
def test_milligrams_in_a_cartridge(solution: str, small: str, medium: str, large: str) -> None:
    found = [mg_per_cartridge(SOLUTIONS[solution], ml) for ml in CARTRIDGE_ML]
    assert found == [Fraction(small), Fraction(medium), Fraction(large)], DOSE_TABLES


@pytest.mark.parametrize(
    ("solution", "small", "medium", "large"),
    [
        # Source: dentalcare.com ce547 table 3 (base, not salt).
        ("lidocaine-epinephrine-50k", "34", "36", "44"),
        ("lidocaine-epinephrine-80k", "21.25", "22.5", "27.5"),
        ("lidocaine-epinephrine-100k", "17", "18", "22"),
        ("articaine-epinephrine-200k", "8.5", "9", "11"),
        ("mepivacaine-levonordefrin-20k", "85", "90", "110"),
        ("mepivacaine-plain", "0", "0", "0"),
    ],
)
def test_micrograms_of_vasoconstrictor(solution: str, small: str, medium: str, large: str) -> None:
    found = [ug_per_cartridge(SOLUTIONS[solution], ml) for ml in CARTRIDGE_ML]
    assert found == [Fraction(small), Fraction(medium), Fraction(large)]


@pytest.mark.parametrize(
    ("person", "solution", "rules", "ml", "milligrams", "cartridges", "source"),
    [
        pytest.param(pounds(150), LIDOCAINE, "us-label", "1.8", "480", 11, DOSE_TABLES,
                     id="L1-oracle-31"),
        pytest.param(kg(70), LIDOCAINE, "lower", "1.7", "300", 8, "derived",
                     id="L6-oracle-32"),
        pytest.param(kg(68), ARTICAINE, "lower", "1.7", "476", 7, "drugs.com, articaine dosage",
                     id="L3-oracle-33"),
        pytest.param(pounds(150), LIDOCAINE, "lower", "1.8", "299.37", 8, DOSE_TABLES, id="L2"),
        pytest.param(pounds(150), ARTICAINE, "us-label", "1.7", "476.27", 7,
                     "drugs.com, articaine dosage", id="L3-pounds"),
        pytest.param(kg(20), LIDOCAINE, "us-label", "1.8", "140", 3, "PMC9379193 table 1",
                     id="L4"),
        pytest.param(kg(70), LIDOCAINE, "us-label", "1.7", "490", 11,
                     "Australian guideline (490 mg), epinephrine limit derived", id="L5"),
        pytest.param(kg(20), LIDOCAINE, "lower", "1.7", "88", 2, "derived", id="L7"),
        pytest.param(kg(15), "mepivacaine-plain", "lower", "1.7", "66", 1, "derived", id="L8"),
        pytest.param(kg(20, age_years=5), ARTICAINE, "lower", "1.7", "140", 2, "derived",
                     id="L9"),
        pytest.param(kg(60), "prilocaine-plain", "us-label", "1.7", "480", 7, "derived",
                     id="L10-1.7"),
        pytest.param(kg(60), "prilocaine-plain", "us-label", "1.8", "480", 6, "derived",
                     id="L10-1.8"),
        pytest.param(kg(80), "prilocaine-plain", "us-label", "1.8", "600", 8,
                     "published generic prilocaine label", id="L11"),
        pytest.param(kg(50), "bupivacaine-epinephrine-200k", "lower", "1.7", "65", 7, "derived",
                     id="L12"),
        # The caps and turning points of the tables.
        pytest.param(kg(100), LIDOCAINE, "us-label", "2.2", "500", 9, "lidocaine label",
                     id="label-cap"),
        pytest.param(kg(100), ARTICAINE, "lower", "2.2", "500", 5, "AAPD (from memory)",
                     id="articaine-lower-cap"),
        pytest.param(kg(100), ARTICAINE, "us-label", "2.2", "700", 7, "articaine label: no cap",
                     id="articaine-label-uncapped"),
        pytest.param(kg("69.9"), "prilocaine-plain", "us-label", "1.8", "559.2", 7,
                     "prilocaine label", id="prilocaine-below-70"),
        pytest.param(kg(70), "prilocaine-plain", "us-label", "1.8", "600", 8,
                     "prilocaine label", id="prilocaine-70"),
        pytest.param(kg(80), "prilocaine-plain", "lower", "2.2", "400", 4, "Australian table",
                     id="prilocaine-lower-cap"),
        pytest.param(kg(70), "mepivacaine-plain", "us-label", "1.8", "400", 7,
                     "mepivacaine label", id="mepivacaine-label-cap"),
        pytest.param(kg(60, age_years=12), "mepivacaine-plain", "us-label", "1.8", "270", 5,
                     "mepivacaine label, table for children", id="mepivacaine-child"),
        pytest.param(kg(60, age_years=12), "mepivacaine-levonordefrin-20k", "us-label", "1.8",
                     "180", 5, "mepivacaine label, table for children",
                     id="mepivacaine-levonordefrin-child"),
        pytest.param(kg(100), "bupivacaine-epinephrine-200k", "us-label", "1.8", "90", 10,
                     DOSE_TABLES, id="bupivacaine-label"),
    ],
)  # fmt: skip
def test_published_limits(
    person: Person, solution: str, rules: str, ml: str, milligrams: str, cartridges: int,
    source: str,
) -> None:  # fmt: skip
    limit = limit_for(SOLUTIONS[solution], person, ml, RuleSet(rules))
    assert plain(limit.drug_mg) == milligrams, source
    assert limit.whole_cartridges == cartridges, source


def test_l1_the_vasoconstrictor_binds_first() -> None:
    # Source: html5.dcatalog.com p27-29: drug 13 cartridges (468 mg), epinephrine 11 (396 mg).
    limit = limit_for(SOLUTIONS[LIDOCAINE], pounds(150), "1.8", RuleSet.US_LABEL)
    assert (limit.cartridges_by_drug, limit.cartridges_by_vasoconstrictor) == (13, 11)
    each = mg_per_cartridge(SOLUTIONS[LIDOCAINE], "1.8")
    assert [13 * each, 11 * each] == [468, 396]


@pytest.mark.parametrize(
    ("person", "solution", "rules", "ml", "volume"),
    [
        # Source L4: PMC9379193 table 1; L5: Australian guideline; L11: prilocaine label.
        pytest.param(kg(20), "lidocaine-epinephrine-100k", "us-label", "1.8", "7", id="L4"),
        pytest.param(kg(80), "prilocaine-plain", "us-label", "1.8", "15", id="L11"),
    ],
)
def test_limits_in_millilitres(
    person: Person, solution: str, rules: str, ml: str, volume: str
) -> None:
    limit = limit_for(SOLUTIONS[solution], person, ml, RuleSet(rules))
    assert limit.volume_ml == Fraction(volume)


def test_l4_cartridges_before_rounding() -> None:
    # Source: PMC9379193 table 1: 3.9 cartridges.
    limit = limit_for(SOLUTIONS[LIDOCAINE], kg(20), "1.8", RuleSet.US_LABEL)
    assert plain(limit.volume_ml / Fraction("1.8"), 1) == "3.9"


def test_l5_seventy_kilograms_is_490_milligrams_or_24_5_millilitres() -> None:
    # Source: Australian oral and dental guidelines (490 mg); derived for the volume.
    milligrams = drug_limit_mg(SOLUTIONS[LIDOCAINE], kg(70), RuleSet.US_LABEL)
    assert milligrams / SOLUTIONS[LIDOCAINE].mg_per_ml == Fraction("24.5")


def test_l3_seven_cartridges_are_11_9_millilitres() -> None:
    # Source: drugs.com, articaine dosage.
    assert 7 * Fraction("1.7") == Fraction("11.9")
    limit = limit_for(SOLUTIONS[ARTICAINE], kg(68), "1.7")
    assert limit.volume_ml == Fraction("11.9")


def test_l16_half_a_cartridge() -> None:
    # Source: published generic lidocaine label: 0.9-1.0 mL of 2 % is 18-20 mg.
    per_ml = SOLUTIONS[LIDOCAINE].mg_per_ml
    assert [per_ml * Fraction("0.9"), per_ml] == [18, 20]


def test_l17_infant_under_six_months() -> None:
    # Derived: 26.4 mg less 30 %; rule from a secondary source.
    infant = kg(6, age_years="0.4")
    milligrams = drug_limit_mg(SOLUTIONS[LIDOCAINE], infant)
    assert milligrams == Fraction("18.48")
    assert plain(milligrams / 20) == "0.92"
    assert drug_limit_mg(SOLUTIONS[LIDOCAINE], kg(6, age_years="0.5")) == Fraction("26.4")


def test_l18_the_label_rounds_up_and_the_count_rounds_down() -> None:
    # Source: published generic mepivacaine label prints 1.8 and 2.6 cartridges for 30 lb.
    child = pounds(30)
    for name, exact, whole in (
        ("mepivacaine-plain", "1.76", 1),
        ("mepivacaine-levonordefrin-20k", "2.65", 2),
    ):
        solution = SOLUTIONS[name]
        milligrams = drug_limit_mg(solution, child, RuleSet.US_LABEL)
        assert milligrams == 90
        assert plain(milligrams / mg_per_cartridge(solution, "1.7")) == exact
        assert limit_for(solution, child, "1.7", RuleSet.US_LABEL).whole_cartridges == whole


@pytest.mark.parametrize(
    ("age", "solution", "rules"),
    [
        # Sources: published generic articaine label (not under 4); dose tables for bupivacaine.
        pytest.param(3, "articaine-epinephrine-100k", "us-label", id="oracle-34-label"),
        pytest.param(3, "articaine-epinephrine-200k", "lower", id="oracle-34-L9"),
        ("3.99", "articaine-epinephrine-100k", "lower"),
        (11, "bupivacaine-epinephrine-200k", "us-label"),
        (11, "bupivacaine-epinephrine-200k", "lower"),
    ],
)
def test_too_young_for_the_drug(age: Number, solution: str, rules: str) -> None:
    person = kg(20, age_years=age)
    assert blocks(solution_findings(SOLUTIONS[solution], person, RuleSet(rules)))
    with pytest.raises(ClinicalError, match="under"):
        drug_limit_mg(SOLUTIONS[solution], person, RuleSet(rules))


def test_old_enough_for_the_drug() -> None:
    assert not blocks(solution_findings(SOLUTIONS[ARTICAINE], kg(20, age_years=4)))
    assert drug_limit_mg(SOLUTIONS[ARTICAINE], kg(20, age_years=4)) == 140


def test_an_unknown_age_is_asked_for_where_it_matters() -> None:
    assert any("ask the age" in f.text for f in solution_findings(SOLUTIONS[ARTICAINE], kg(60)))
    assert not any("ask" in f.text for f in solution_findings(SOLUTIONS[LIDOCAINE], kg(60)))


@pytest.mark.parametrize("name", list(SOLUTIONS))
def test_every_solution_carries_the_labels_advice_for_the_frail(name: str) -> None:
    # Published generic labels of lidocaine and articaine: less for elderly, debilitated, liver or
    # heart disease. No figure is given there, so none is counted.
    told = [f.text for f in solution_findings(SOLUTIONS[name], kg(60, age_years=80))]
    assert any("elderly" in each and "liver" in each for each in told)
    assert drug_limit_mg(SOLUTIONS[name], kg(60, age_years=80)) == drug_limit_mg(
        SOLUTIONS[name], kg(60, age_years=40)
    )


@pytest.mark.parametrize("rules", list(RuleSet))
@pytest.mark.parametrize("name", list(SOLUTIONS))
def test_oracle_37_no_weight_no_limit(name: str, rules: RuleSet) -> None:
    with pytest.raises(ClinicalError, match="weight is unknown"):
        limit_for(SOLUTIONS[name], Person(None, age_years=40), "1.7", rules)


def test_heart_disease_lowers_the_vasoconstrictor_only() -> None:
    # Source: secondary page, 2025 (0.04 mg); levonordefrin handbook (from memory).
    ill = kg(70, heart_disease=True)
    assert vasoconstrictor_limit_ug(SOLUTIONS[LIDOCAINE], ill) == 40
    assert vasoconstrictor_limit_ug(SOLUTIONS[LIDOCAINE], kg(70)) == 200
    assert vasoconstrictor_limit_ug(SOLUTIONS["mepivacaine-levonordefrin-20k"], ill) == 200
    assert vasoconstrictor_limit_ug(SOLUTIONS["mepivacaine-levonordefrin-20k"], kg(70)) == 1000
    assert vasoconstrictor_limit_ug(SOLUTIONS["mepivacaine-plain"], ill) is None
    assert limit_for(SOLUTIONS[LIDOCAINE], ill, "1.7").whole_cartridges == 2
    assert any("heart" in finding.text for finding in solution_findings(SOLUTIONS[LIDOCAINE], ill))


def test_allergy_and_methaemoglobinaemia_block() -> None:
    # Sources: published generic articaine and prilocaine labels.
    sulfite = kg(70, sulfite_allergy=True)
    assert blocks(solution_findings(SOLUTIONS[LIDOCAINE], sulfite))
    assert not blocks(solution_findings(SOLUTIONS["mepivacaine-plain"], sulfite))
    risk = kg(70, methaemoglobinaemia=True)
    assert blocks(solution_findings(SOLUTIONS["prilocaine-plain"], risk))
    assert not blocks(solution_findings(SOLUTIONS[LIDOCAINE], risk))


@pytest.mark.parametrize(
    ("bad_weight", "unit"), [(0, "kg"), (-5, "kg"), (0, "lb"), (float("nan"), "kg")]
)
def test_weight_must_be_above_zero(bad_weight: float, unit: str) -> None:
    with pytest.raises(ClinicalError, match="weight"):
        Weight.in_kg(bad_weight) if unit == "kg" else Weight.in_pounds(bad_weight)


def test_unknown_solution_and_cartridge_are_refused() -> None:
    with pytest.raises(ClinicalError, match="known solution"):
        solution_named("lidocaine")
    with pytest.raises(ClinicalError, match="size"):
        limit_for(SOLUTIONS[LIDOCAINE], kg(70), 2)


def test_names_and_families() -> None:
    assert SOLUTIONS[LIDOCAINE].name == "lidocaine 2 % with epinephrine 1:100,000"
    assert SOLUTIONS["mepivacaine-plain"].name == "mepivacaine 3 % plain"
    assert SOLUTIONS[LIDOCAINE].family == "lidocaine-epinephrine"


solutions = st.sampled_from(list(SOLUTIONS.values()))
weights = st.decimals(min_value=1, max_value=200, places=1)


def _limit(solution: Solution, weight: object, ml: Fraction, rules: RuleSet) -> Limit:
    return limit_for(solution, kg(str(weight)), ml, rules)


@given(solutions, weights, st.sampled_from(CARTRIDGE_ML), st.sampled_from(RuleSet))
def test_whole_cartridges_never_pass_a_limit(
    solution: Solution, weight: object, ml: Fraction, rules: RuleSet
) -> None:
    limit = _limit(solution, weight, ml, rules)
    assert limit.whole_cartridges * mg_per_cartridge(solution, ml) <= limit.drug_mg
    if limit.vasoconstrictor_ug is not None:
        agent = limit.whole_cartridges * ug_per_cartridge(solution, ml)
        assert agent <= limit.vasoconstrictor_ug
    one_more = (limit.whole_cartridges + 1) * ml
    assert one_more > limit.volume_ml


@given(solutions, weights, weights, st.sampled_from(RuleSet))
def test_a_heavier_person_never_has_a_smaller_limit(
    solution: Solution, one: object, other: object, rules: RuleSet
) -> None:
    light, heavy = sorted((one, other), key=lambda value: Fraction(str(value)))
    less = _limit(solution, light, CARTRIDGE_ML[0], rules)
    more = _limit(solution, heavy, CARTRIDGE_ML[0], rules)
    assert less.drug_mg <= more.drug_mg
    assert less.whole_cartridges <= more.whole_cartridges


@given(solutions, weights, st.sampled_from(CARTRIDGE_ML))
def test_the_lower_set_is_never_above_the_label(
    solution: Solution, weight: object, ml: Fraction
) -> None:
    lower = _limit(solution, weight, ml, RuleSet.LOWER)
    label = _limit(solution, weight, ml, RuleSet.US_LABEL)
    assert lower.drug_mg <= label.drug_mg
