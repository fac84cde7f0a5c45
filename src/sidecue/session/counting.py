"""The count of anaesthetic in a session: what the confirmed entries add up to, and against what.

A count for the clinician, who decides every dose; nothing here recommends one.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction

from sidecue.clinical.anaesthetic import Drug, solution_named
from sidecue.clinical.dose_limits import Person, RuleSet, Weight, solution_findings
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, Severity
from sidecue.clinical.quantity import plain, whole_up
from sidecue.clinical.tally import Tally
from sidecue.procedure.plan import AnaestheticCount
from sidecue.procedure.slots import CARTRIDGES, WEIGHT, entry_of
from sidecue.session.effects import Say, Urgency
from sidecue.session.prompts import Prompter, spoken
from sidecue.session.state import Value

#: What a rule set's limits are called.
RULES = {RuleSet.LOWER: "lower", RuleSet.US_LABEL: "label"}


@dataclass(frozen=True, slots=True)
class Against:
    """The count against the limits of one rule set. Shares are of the limit, 1 being all of it."""

    rule_set: RuleSet
    chosen: bool  # the practice's own
    drugs: Fraction | None  # None: no limit is shown
    vasoconstrictors: Fraction
    left: tuple[tuple[str, int], ...]  # solution as it is said, whole cartridges, rounded down
    why_none: str = ""

    @property
    def over(self) -> bool:
        """True when any limit is passed."""
        return (self.drugs is not None and self.drugs > 1) or self.vasoconstrictors > 1


class Count:
    """The count of one session so far."""

    def __init__(self, basis: AnaestheticCount, values: Iterable[Value]) -> None:
        self.basis = basis
        kept = tuple(values)
        weights = [Fraction(each.value) for each in kept if each.slot == WEIGHT]
        kg = weights[-1] if weights else basis.weight_kg
        self.person = Person(
            weight=None if kg is None else Weight.in_kg(kg),
            age_years=basis.age_years,
            heart_disease=basis.heart_disease,
            sulfite_allergy=basis.sulfite_allergy,
            methaemoglobinaemia=basis.methaemoglobinaemia,
        )
        sizes = {solution.id: solution.cartridge_ml for solution in basis.solutions}
        self.tally = Tally()
        for each in kept:
            if each.slot == CARTRIDGES:
                solution, cartridges = entry_of(each.value)
                self.tally = self.tally.add(solution, cartridges, sizes[solution])

    @property
    def given(self) -> bool:
        """True once anything was counted."""
        return bool(self.tally.entries)

    @property
    def both(self) -> tuple[Against, ...]:
        """The count against both named rule sets, the practice's own first."""
        own = RuleSet(self.basis.rule_set)
        return tuple(self._against(rules, own) for rules in sorted(RuleSet, key=lambda r: r != own))

    def _shares(self, rules: RuleSet, own: RuleSet) -> Against:
        """Return the shares of the limits of `rules` alone."""
        share = self.tally.vasoconstrictor_share(self.person)
        try:
            now = self.tally.standing(self.person, rules)
        except ClinicalError as error:
            return Against(rules, rules is own, None, share, (), error.what)
        if self.person.weight is None:  # nothing counted yet, and no weight: still no limit
            return Against(rules, rules is own, None, share, (), "no limit: the weight is unknown")
        return Against(rules, rules is own, now.drugs, share, ())

    def _against(self, rules: RuleSet, own: RuleSet) -> Against:
        shares = self._shares(rules, own)
        if shares.drugs is None:
            return shares
        left = []
        for each in self.basis.solutions:
            try:
                number = self.tally.whole_cartridges_left(
                    solution_named(each.id), self.person, each.cartridge_ml, rules
                )
            except ClinicalError:  # not for this age
                continue
            left.append((each.spoken, number))
        return replace(shares, left=tuple(left))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What the labels say of the solutions counted, for this person; each once."""
        rules = RuleSet(self.basis.rule_set)
        names = dict.fromkeys(entry.solution for entry in self.tally.entries)
        found = (
            finding
            for name in names
            for finding in solution_findings(solution_named(name), self.person, rules)
        )
        return tuple(dict.fromkeys(found))

    @property
    def agent(self) -> str:
        """The vasoconstrictor counted, by name when there is one alone."""
        agents = [agent.value for agent in self.tally.vasoconstrictor_ug]
        return agents[0] if len(agents) == 1 else "vasoconstrictor"

    @property
    def lines(self) -> tuple[str, ...]:
        """The whole count in words, for a screen or the record; empty before the first entry."""
        if not self.given:
            return ()
        lines = [self.tally.sentence]
        for each in self.both:
            name = f"{each.rule_set.value} limits{' (of this practice)' if each.chosen else ''}"
            drugs = each.why_none if each.drugs is None else f"drugs {percent(each.drugs)} %"
            line = f"{name}: {drugs}, vasoconstrictor {percent(each.vasoconstrictors)} %"
            if each.left:
                left = ", ".join(f"{number} {spoken}" for spoken, number in each.left)
                line += f"; whole cartridges left, one kind alone: {left}"
            lines.append(f"{line}{'; OVER THE LIMIT' if each.over else ''}")
        lines += [f"{finding.text} ({finding.source})" for finding in self.findings]
        return (*lines, "a count of what was said; the clinician decides")

    @property
    def short(self) -> str:
        """The count in one short line, against the practice's own limits; empty before any."""
        if not self.given:
            return ""
        number = sum((entry.cartridges for entry in self.tally.entries), Fraction(0))
        parts = [f"{plain(number)} {'cartridge' if number <= 1 else 'cartridges'}"]
        parts += [f"{plain(mg)} mg {drug.value}" for drug, mg in self.tally.drug_mg.items()]
        own = self.both[0]
        if own.drugs is None:
            parts.append("no limit shown" if self.person.weight else "weight unknown")
        else:
            parts.append(f"{percent(max(own.drugs, own.vasoconstrictors))} % of limit")
        return f"{'OVER THE LIMIT: ' if own.over else ''}{', '.join(parts)}"

    def said(self, prompts: Prompter, value: str) -> tuple[Say, ...]:
        """Return what is said after the entry `value`: milligrams, share, and what is passed."""
        solution = solution_named(entry_of(value)[0])
        practice = RuleSet(self.basis.rule_set)
        own = self._shares(practice, practice)
        drug = solution.drug
        mg = plain(self.tally.drug_mg[drug])
        mixed = len(self.tally.drug_mg) > 1
        if own.drugs is None:
            key = "count-no-weight" if self.person.weight is None else "count-no-limit"
            told = prompts.text(key, mg=mg)
        elif own.vasoconstrictors > own.drugs:
            share = percent(own.vasoconstrictors)
            told = prompts.text("count-agent", mg=mg, percent=share, agent=self.agent)
        elif mixed:
            share = percent(own.drugs)
            told = prompts.text("count-mixed", mg=mg, drug=drug.value, percent=share)
        else:
            told = prompts.text("count", mg=mg, percent=percent(own.drugs))
        says = [Say(each) for each in spoken(told)]
        cautions = []
        if own.drugs is not None and own.drugs > 1:
            cautions.append(prompts.text("over-limit", rules=RULES[own.rule_set]))
        if own.vasoconstrictors > 1:
            cautions.append(prompts.text("over-agent", agent=self.agent))
        found = solution_findings(solution, self.person, own.rule_set)
        cautions += [f"{each.text[:1].upper()}{each.text[1:]}." for each in found
                     if each.severity is Severity.BLOCK]  # fmt: skip
        if planned := planned_instead(self.basis, value):
            cautions.append(prompts.text("differs", value=planned))
        return (*says, *(Say(each, Urgency.CAUTION) for each in cautions))


def planned_instead(basis: AnaestheticCount, value: str) -> str:
    """Return the anaesthetic of the case, as the practice says it or by its drug, where the entry
    `value` is of another one; else nothing."""
    solution, planned = solution_named(entry_of(value)[0]), basis.planned
    if not planned or planned in (solution.id, solution.drug.value):
        return ""
    known = {each.id: each.spoken for each in basis.solutions}
    if planned in known or planned in {drug.value for drug in Drug}:
        return known.get(planned, planned)
    return solution_named(planned).drug.value


def percent(share: Fraction) -> str:
    """Return a share in whole per cent, rounded up: over the limit never reads as 100."""
    return str(whole_up(share * 100))
