"""The most that published rules allow, by named rule set. The clinician decides the dose.

Two rule sets conflict, so each is named and printed: `us-label` (published generic US labels) and
`lower` (AAPD and Australian tables; AAPD from memory), the default. Every limit is the smaller of
the drug's and the vasoconstrictor's; whole cartridges are rounded down. Without a weight there is
no limit. Sources: published generic labels; pharmacology-notes-free.blogspot.com (Australian
table); dentalcare.com ce547 table 3 (vasoconstrictor), a secondary page of 2025 (heart disease);
amides less 30 % under six months (secondary source).
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sidecue.clinical import sources
from sidecue.clinical.anaesthetic import (
    Drug,
    Solution,
    Vasoconstrictor,
    cartridge,
    mg_per_cartridge,
    ug_per_cartridge,
)
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, Severity, block, note, warn
from sidecue.clinical.quantity import (
    KILOGRAMS_PER_POUND,
    Number,
    not_negative,
    plain,
    positive,
    whole_down,
)


class RuleSet(StrEnum):
    """Which published limits are used."""

    US_LABEL = "us-label"
    LOWER = "lower"


@dataclass(frozen=True, slots=True)
class Weight:
    """A body weight in kilograms; `pounds` is kept when it was given so.

    Some US labels print their own milligrams per pound, which are not exactly the ones per
    kilogram.
    """

    kg: Fraction
    pounds: Fraction | None = None

    @classmethod
    def in_kg(cls, value: Number) -> Weight:
        """Return a weight given in kilograms; raise ClinicalError unless above zero."""
        return cls(positive(value, "weight (kg)"))

    @classmethod
    def in_pounds(cls, value: Number) -> Weight:
        """Return a weight given in pounds; raise ClinicalError unless above zero."""
        pounds = positive(value, "weight (lb)")
        return cls(pounds * KILOGRAMS_PER_POUND, pounds)


@dataclass(frozen=True, slots=True)
class Person:
    """What the limits depend on. None means that nobody said it."""

    weight: Weight | None
    age_years: Number | None = None
    heart_disease: bool = False
    sulfite_allergy: bool = False
    methaemoglobinaemia: bool = False


@dataclass(frozen=True, slots=True)
class _Rule:
    """Limits of one drug in one rule set: mg/kg, mg/lb, mg altogether, least age in years."""

    mg_per_kg: Fraction | None
    cap_mg: Fraction | None
    source: str
    mg_per_lb: Fraction | None = None
    least_age: int | None = None


def _rule(mg_per_kg: str | None, cap_mg: int | None, source: str, *,
          mg_per_lb: str | None = None, least_age: int | None = None) -> _Rule:  # fmt: skip
    return _Rule(
        None if mg_per_kg is None else Fraction(mg_per_kg),
        None if cap_mg is None else Fraction(cap_mg),
        source,
        None if mg_per_lb is None else Fraction(mg_per_lb),
        least_age,
    )


_RULES: dict[RuleSet, dict[Drug, _Rule]] = {
    RuleSet.US_LABEL: {
        Drug.LIDOCAINE: _rule("7", 500, sources.LIDOCAINE_LABEL, mg_per_lb="3.2"),
        Drug.ARTICAINE: _rule("7", None, sources.ARTICAINE_LABEL, least_age=4),
        Drug.MEPIVACAINE: _rule("6.6", 400, sources.MEPIVACAINE_LABEL, mg_per_lb="3"),
        Drug.PRILOCAINE: _rule("8", 600, sources.PRILOCAINE_LABEL),
        Drug.BUPIVACAINE: _rule(None, 90, sources.BUPIVACAINE_LABEL, least_age=12),
    },
    RuleSet.LOWER: {
        Drug.LIDOCAINE: _rule("4.4", 300, sources.AAPD_DOSES),
        Drug.ARTICAINE: _rule("7", 500, sources.AAPD_DOSES, least_age=4),
        Drug.MEPIVACAINE: _rule("4.4", 300, sources.AAPD_DOSES),
        Drug.PRILOCAINE: _rule("6", 400, sources.AUSTRALIAN_DOSES),
        Drug.BUPIVACAINE: _rule("1.3", 90, sources.AUSTRALIAN_DOSES, least_age=12),
    },
}

# The label's tables for children stop here; applied below 18 years. By vasoconstrictor.
_MEPIVACAINE_CHILD_MG = {None: Fraction(270), Vasoconstrictor.LEVONORDEFRIN: Fraction(180)}
_CHILD_BELOW = 18
_PRILOCAINE_FIXED_KG = Fraction(70)  # from here the label gives 600 mg, not mg/kg

INFANT_BELOW_YEARS = Fraction(1, 2)
INFANT_SHARE = Fraction("0.7")

# Micrograms in one visit, healthy and with significant heart disease.
VASOCONSTRICTOR_UG: dict[Vasoconstrictor, tuple[Fraction, Fraction]] = {
    Vasoconstrictor.EPINEPHRINE: (Fraction(200), Fraction(40)),
    Vasoconstrictor.LEVONORDEFRIN: (Fraction(1000), Fraction(200)),
}
VASOCONSTRICTOR_SOURCE = {
    Vasoconstrictor.EPINEPHRINE: f"{sources.VASOCONSTRICTOR}; {sources.HEART_LIMIT}",
    Vasoconstrictor.LEVONORDEFRIN: f"{sources.VASOCONSTRICTOR}; {sources.LEVONORDEFRIN_HEART}",
}


@dataclass(frozen=True, slots=True)
class Limit:
    """The published limit of one solution for one person. Not a recommended dose."""

    rule_set: RuleSet
    drug_mg: Fraction
    vasoconstrictor_ug: Fraction | None
    cartridges_by_drug: int
    cartridges_by_vasoconstrictor: int | None
    volume_ml: Fraction  # the smaller of the two, not rounded
    source: str

    @property
    def whole_cartridges(self) -> int:
        """Whole cartridges within both limits."""
        if self.cartridges_by_vasoconstrictor is None:
            return self.cartridges_by_drug
        return min(self.cartridges_by_drug, self.cartridges_by_vasoconstrictor)


def drug_limit_mg(
    solution: Solution, person: Person, rule_set: RuleSet = RuleSet.LOWER
) -> Fraction:
    """Return the most milligrams of the solution's drug.

    Raises ClinicalError when the weight is unknown (no limit is shown) or the drug is not for
    this age.
    """
    if person.weight is None:
        raise ClinicalError(
            "no limit: the weight is unknown",
            "every limit rests on the body weight",
            "enter the weight",
        )
    rule = _RULES[rule_set][solution.drug]
    refused = _age_block(solution, person, rule)
    if refused is not None:
        raise ClinicalError(
            f"no limit for {solution.name}", refused.text, "the clinician chooses another drug"
        )
    most = _by_weight(rule, person.weight)
    if solution.drug is Drug.PRILOCAINE and rule_set is RuleSet.US_LABEL:
        most = most if person.weight.kg < _PRILOCAINE_FIXED_KG else rule.cap_mg
    caps = [rule.cap_mg]
    age = None if person.age_years is None else not_negative(person.age_years, "age (years)")
    if solution.drug is Drug.MEPIVACAINE and rule_set is RuleSet.US_LABEL:
        child = age is not None and age < _CHILD_BELOW
        caps.append(_MEPIVACAINE_CHILD_MG[solution.vasoconstrictor] if child else None)
    limit = min(value for value in (most, *caps) if value is not None)
    infant = age is not None and age < INFANT_BELOW_YEARS
    return limit * INFANT_SHARE if infant else limit


def _by_weight(rule: _Rule, weight: Weight) -> Fraction | None:
    if weight.pounds is not None and rule.mg_per_lb is not None:
        return rule.mg_per_lb * weight.pounds
    return None if rule.mg_per_kg is None else rule.mg_per_kg * weight.kg


def vasoconstrictor_limit_ug(solution: Solution, person: Person) -> Fraction | None:
    """Return the most micrograms of the solution's vasoconstrictor; None when it is plain."""
    if solution.vasoconstrictor is None:
        return None
    healthy, heart = VASOCONSTRICTOR_UG[solution.vasoconstrictor]
    return heart if person.heart_disease else healthy


def limit_for(
    solution: Solution, person: Person, cartridge_ml: Number, rule_set: RuleSet = RuleSet.LOWER
) -> Limit:
    """Return the published limit in milligrams, micrograms, millilitres and whole cartridges.

    Raises ClinicalError for an unknown weight, an age the drug is not for, or an odd cartridge.
    """
    volume = cartridge(cartridge_ml)
    drug_mg = drug_limit_mg(solution, person, rule_set)
    by_drug = drug_mg / mg_per_cartridge(solution, volume)
    vaso_ug = vasoconstrictor_limit_ug(solution, person)
    by_vaso = None if vaso_ug is None else vaso_ug / ug_per_cartridge(solution, volume)
    smaller = by_drug if by_vaso is None else min(by_drug, by_vaso)
    source = _RULES[rule_set][solution.drug].source
    if solution.vasoconstrictor is not None:
        source = f"{source}; {VASOCONSTRICTOR_SOURCE[solution.vasoconstrictor]}"
    return Limit(
        rule_set=rule_set,
        drug_mg=drug_mg,
        vasoconstrictor_ug=vaso_ug,
        cartridges_by_drug=whole_down(by_drug),
        cartridges_by_vasoconstrictor=None if by_vaso is None else whole_down(by_vaso),
        volume_ml=smaller * volume,
        source=source,
    )


def _age_block(solution: Solution, person: Person, rule: _Rule) -> Finding | None:
    found = _by_age(solution.drug, person.age_years, rule)
    return found if found is not None and found.severity is Severity.BLOCK else None


def _by_age(drug: Drug, age_years: Number | None, rule: _Rule) -> Finding | None:
    if rule.least_age is None:
        return None
    text = f"{drug.value} is not used under {rule.least_age} years"
    if age_years is None:
        return warn(f"{text}: ask the age", rule.source)
    young = not_negative(age_years, "age (years)") < rule.least_age
    return block(text, rule.source) if young else None


def age_findings(
    drug: Drug, age_years: Number | None, rule_set: RuleSet = RuleSet.LOWER
) -> tuple[Finding, ...]:
    """Refuse a drug for a patient too young for it; warn while the age is unknown."""
    found = _by_age(drug, age_years, _RULES[rule_set][drug])
    return () if found is None else (found,)


def solution_findings(
    solution: Solution, person: Person, rule_set: RuleSet = RuleSet.LOWER
) -> tuple[Finding, ...]:
    """Return what speaks against or qualifies a solution for this person."""
    found = list(age_findings(solution.drug, person.age_years, rule_set))
    if person.sulfite_allergy and solution.vasoconstrictor is not None:
        found.append(
            block("sulfite allergy: no solution with vasoconstrictor", sources.ARTICAINE_LABEL)
        )
    if person.methaemoglobinaemia and solution.drug is Drug.PRILOCAINE:
        found.append(block("methaemoglobinaemia risk: avoid prilocaine", sources.PRILOCAINE_LABEL))
    if person.heart_disease and solution.vasoconstrictor is not None:
        healthy, heart = VASOCONSTRICTOR_UG[solution.vasoconstrictor]
        found.append(
            warn(
                f"heart disease: {solution.vasoconstrictor.value} counted against "
                f"{plain(heart)}, not {plain(healthy)} micrograms",
                VASOCONSTRICTOR_SOURCE[solution.vasoconstrictor],
            )
        )
    if solution.drug is Drug.PRILOCAINE:
        found.append(note("the label's limit covers two hours", sources.PRILOCAINE_LABEL))
    found.append(
        note(
            "labels advise less for the elderly, the frail, liver and heart disease",
            f"{sources.LIDOCAINE_LABEL}; {sources.ARTICAINE_LABEL}",
        )
    )
    return tuple(found)
