"""A procedure in two halves comes to what it comes to as a whole."""

from __future__ import annotations

import gc
from dataclasses import replace
from itertools import product

from shipped_library import shipped
from sidecue.proof.atlas import Atlas
from sidecue.proof.cases import planned_again, variants_of
from sidecue.proof.exploring import Violation
from sidecue.proof.properties import Broken
from sidecue.proof.proving import proven_all
from sidecue.proof.sharing_out import prove, proven_in_halves, together
from sidecue.proof.verdict import Proof


def test_both_halves_together_are_the_whole_each_plan_once() -> None:
    """Twenty plans of 93 variants: several come up in both halves."""
    library = shipped()
    office, visit = library.practices["example"], "polishing"
    whole = proven_all(library, office, visit, Atlas())
    halves = proven_in_halves(library, office, visit)
    assert whole.variants > whole.distinct > 2
    assert whole.sound
    apart = replace(whole, tried=halves.tried, seconds=halves.seconds, samples=halves.samples)
    assert halves == apart
    assert halves.tried > whole.tried, "each half asks the machine for itself"
    met = [
        {
            frozenset((one.id, other.id))
            for made in planned_again(library, visit, office, each.samples)
            for one, other in product(made.steps, repeat=2)
        }
        for each in (whole, halves)
    ]
    assert met[0] == met[1], "between them, the samples have every two steps that meet"


def test_one_variant_alone_is_a_half_too() -> None:
    library = shipped()
    visit = min(library.visits, key=lambda name: sum(1 for _ in variants_of(library, name)))
    office = library.practices["example"]
    halves, whole = (
        proven_in_halves(library, office, visit),
        proven_all(library, office, visit, Atlas()),
    )
    assert (halves.distinct, halves.states) == (whole.distinct, whole.states)


def test_a_fault_of_both_halves_is_told_once() -> None:
    one, other = Violation(Broken("a", "x"), ()), Violation(Broken("b", "y"), ())
    first = Proof("visit", distinct=1, explored=1, states=3, violations=[("here", one)])
    second = Proof(
        "visit", distinct=2, explored=2, states=4, violations=[("there", one), ("there", other)]
    )
    both = together(first, second)
    assert both.violations == [("here", one), ("there", other)]
    assert (both.distinct, both.explored, both.states) == (3, 3, 7)
    assert not both.sound


def test_rubbish_is_looked_for_again_afterwards() -> None:
    library = shipped()
    assert gc.isenabled()
    list(prove(library, library.practices["example"], ["fissure-sealant"]))
    assert gc.isenabled()
