"""A count of local anaesthetic given, against named limits.

It adds up what was said; the clinician decides every dose, and no sentence here recommends one.
Mixed drugs are compared by the sum of their fractions (sum-of-fractions rule, secondary source);
the same is done for vasoconstrictors, which is the more cautious reading.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from sidecue.clinical.anaesthetic import (
    Drug,
    Solution,
    Vasoconstrictor,
    cartridge,
    mg_per_cartridge,
    solution_named,
    ug_per_cartridge,
)
from sidecue.clinical.dose_limits import (
    VASOCONSTRICTOR_UG,
    Person,
    RuleSet,
    drug_limit_mg,
    vasoconstrictor_limit_ug,
)
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.quantity import Number, plain, positive, whole_down


@dataclass(frozen=True, slots=True)
class Entry:
    """One confirmed entry: the solution, how many cartridges, and their volume in mL."""

    solution: str
    cartridges: Fraction
    cartridge_ml: Fraction

    @property
    def of(self) -> Solution:
        """The solution of the entry."""
        return solution_named(self.solution)

    @property
    def volume_ml(self) -> Fraction:
        """Millilitres given."""
        return self.cartridges * self.cartridge_ml

    @property
    def drug_mg(self) -> Fraction:
        """Milligrams of drug given."""
        return self.volume_ml * self.of.mg_per_ml

    @property
    def vasoconstrictor_ug(self) -> Fraction:
        """Micrograms of vasoconstrictor base given."""
        return self.volume_ml * self.of.vasoconstrictor_ug_per_ml


@dataclass(frozen=True, slots=True)
class Standing:
    """What the count comes to, as a share of the limits of one rule set (1 is the limit)."""

    rule_set: RuleSet
    by_drug: tuple[tuple[Drug, Fraction], ...]
    drugs: Fraction
    vasoconstrictors: Fraction

    @property
    def over(self) -> bool:
        """True when the drugs together or the vasoconstrictors together pass their limit."""
        return self.drugs > 1 or self.vasoconstrictors > 1


@dataclass(frozen=True, slots=True)
class Tally:
    """The count so far. Unchangeable: every change returns a new tally."""

    entries: tuple[Entry, ...] = ()

    def add(self, solution: str, cartridges: Number, cartridge_ml: Number) -> Tally:
        """Return the tally with one more entry.

        Raises ClinicalError for an unknown solution, an odd cartridge, or a count not above zero.
        """
        entry = Entry(
            solution_named(solution).id,
            positive(cartridges, "cartridges"),
            cartridge(cartridge_ml),
        )
        return replace(self, entries=(*self.entries, entry))

    def without_last(self) -> Tally:
        """Return the tally without its last entry; raise ClinicalError when it is empty."""
        if not self.entries:
            raise ClinicalError("nothing to take back", "the count is empty", "say what was given")
        return replace(self, entries=self.entries[:-1])

    def correct_last(self, cartridges: Number) -> Tally:
        """Return the tally with another number of cartridges in its last entry."""
        shorter = self.without_last()
        last = self.entries[-1]
        return shorter.add(last.solution, cartridges, last.cartridge_ml)

    @property
    def volume_ml(self) -> Fraction:
        """Millilitres of all solutions."""
        return sum((entry.volume_ml for entry in self.entries), Fraction(0))

    @property
    def drug_mg(self) -> dict[Drug, Fraction]:
        """Milligrams by drug, in the order first given."""
        total: dict[Drug, Fraction] = {}
        for entry in self.entries:
            total[entry.of.drug] = total.get(entry.of.drug, Fraction(0)) + entry.drug_mg
        return total

    @property
    def vasoconstrictor_ug(self) -> dict[Vasoconstrictor, Fraction]:
        """Micrograms of base by vasoconstrictor."""
        total: dict[Vasoconstrictor, Fraction] = {}
        for entry in self.entries:
            agent = entry.of.vasoconstrictor
            if agent is not None:
                total[agent] = total.get(agent, Fraction(0)) + entry.vasoconstrictor_ug
        return total

    def vasoconstrictor_share(self, person: Person) -> Fraction:
        """Return the share of the vasoconstrictor limits used; this needs no weight."""
        share = Fraction(0)
        for agent, given in self.vasoconstrictor_ug.items():
            healthy, heart = VASOCONSTRICTOR_UG[agent]
            share += given / (heart if person.heart_disease else healthy)
        return share

    def standing(self, person: Person, rule_set: RuleSet = RuleSet.LOWER) -> Standing:
        """Return the shares of the limits used.

        Of one drug in several solutions the strictest limit counts. Raises ClinicalError for an
        unknown weight, or a drug given that is not for this age.
        """
        limits: dict[Drug, Fraction] = {}
        for entry in self.entries:
            limit = drug_limit_mg(entry.of, person, rule_set)
            limits[entry.of.drug] = min(limit, limits.get(entry.of.drug, limit))
        by_drug = tuple((drug, mg / limits[drug]) for drug, mg in self.drug_mg.items())
        drugs = sum((share for _, share in by_drug), Fraction(0))
        return Standing(rule_set, by_drug, drugs, self.vasoconstrictor_share(person))

    def whole_cartridges_left(
        self,
        solution: Solution,
        person: Person,
        cartridge_ml: Number,
        rule_set: RuleSet = RuleSet.LOWER,
    ) -> int:
        """Return the whole cartridges of `solution` that stay within both limits, rounded down.

        Once either limit is passed the answer is 0, for a plain solution too.
        """
        now = self.standing(person, rule_set)
        if now.over:
            return 0
        # A stricter limit of the same drug, from another solution already given, still counts.
        limit = min(
            [drug_limit_mg(solution, person, rule_set)]
            + [
                drug_limit_mg(entry.of, person, rule_set)
                for entry in self.entries
                if entry.of.drug is solution.drug
            ]
        )
        given = self.drug_mg.get(solution.drug, Fraction(0))
        others = now.drugs - next((s for d, s in now.by_drug if d is solution.drug), Fraction(0))
        room = [((1 - others) * limit - given) / mg_per_cartridge(solution, cartridge_ml)]
        most_ug = vasoconstrictor_limit_ug(solution, person)
        if most_ug is not None:
            free_ug = (1 - now.vasoconstrictors) * most_ug
            room.append(free_ug / ug_per_cartridge(solution, cartridge_ml))
        return whole_down(max(Fraction(0), min(room)))

    @property
    def sentence(self) -> str:
        """The count in words, for the read-back: `counted so far: 2 cartridges, ...`."""
        if not self.entries:
            return "counted so far: no anaesthetic"
        number = sum((entry.cartridges for entry in self.entries), Fraction(0))
        parts = [f"{plain(number)} {'cartridge' if number == 1 else 'cartridges'}"]
        parts += [f"{plain(mg)} mg {drug.value}" for drug, mg in self.drug_mg.items()]
        parts += [f"{plain(ug)} ug {agent.value}" for agent, ug in self.vasoconstrictor_ug.items()]
        return f"counted so far: {', '.join(parts)}"

    def standing_sentence(self, person: Person, rule_set: RuleSet = RuleSet.LOWER) -> str:
        """Return the share of the limits in words, with the name of the rule set.

        With an unknown weight it says that no limit is shown. Per cents are rounded up, so that a
        count over the limit never reads as 100.
        """
        try:
            now = self.standing(person, rule_set)
        except ClinicalError as error:
            return f"{error.what}; the clinician decides"
        drugs = -whole_down(-now.drugs * 100)
        agents = -whole_down(-now.vasoconstrictors * 100)
        over = "over the limit: " if now.over else ""
        return (
            f"{over}drugs {drugs} % and vasoconstrictor {agents} % of the {rule_set.value} limits; "
            "the clinician decides"
        )
