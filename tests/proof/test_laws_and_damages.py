"""The laws beside the interlocks, the case variants, and a sample of the damaged procedures."""

from __future__ import annotations

from pathlib import Path

import pytest
from benchmarks.proof.damages import Damage, damages
from benchmarks.proof.killing import tried
from benchmarks.proof.synthetic import long_plan
from proof_plan import RULES, shipped, small_plan

from sidecue.assets import data_folder
from sidecue.procedure.plan import Rule
from sidecue.proof.cases import census, signature, variants_of
from sidecue.proof.explaining import explained
from sidecue.proof.laws import laws, time_faults
from sidecue.proof.proving import proven

FILES = ("parts/adhesive.yaml", "parts/increments.yaml", "parts/closing.yaml")


def test_every_timer_that_ships_guards_its_time_as_the_trade_does() -> None:
    assert list(time_faults(shipped())) == []


def test_every_law_names_its_source_and_facts_that_exist() -> None:
    known = set(shipped().facts)
    for rule in laws().never:
        assert rule.source
        assert known.issuperset(rule.never)
    for law in laws().used_up:
        assert law.source
        assert known.issuperset((law.fact, *law.takes))
    assert known.issuperset(laws().read_back)


def test_every_variant_of_a_procedure_becomes_a_plan_of_just_that_case() -> None:
    library = shipped()
    counted = census(library, "fissure-sealant", library.practices["example"])
    assert counted.unmade == 0
    assert counted.variants >= len(list(variants_of(library, "fissure-sealant"))) > 1
    assert sum(each.variants for each in counted.distinct) + counted.refused == counted.variants
    signs = [signature(each.variant.plan) for each in counted.distinct]
    assert len(signs) == len(set(signs))


@pytest.fixture(scope="module")
def made() -> list[Damage]:
    return list(damages(data_folder("flows"), FILES))


@pytest.mark.parametrize(
    ("kind", "what", "by"),
    [
        ("swap-steps", "rinse-etch before etch-dentine", None),
        ("drop-establish", "rub-adhesive no longer establishes adhesive-soaked", "loading"),
        ("timer-kind", "rinse-etch: rinse counts down", "laws"),
        ("drop-rule", "shields-before-light", "comparison"),
        ("overlay", "the practice leaves out etch-enamel", "loading"),
    ],
)
def test_a_damaged_procedure_is_refused_before_anyone_runs_it(
    made: list[Damage], kind: str, what: str, by: str | None
) -> None:
    damage = next(each for each in made if each.kind == kind and each.what.startswith(what))
    outcome = tried(damage, Path(data_folder("flows")), shipped())
    assert outcome.by == (by or outcome.by)


def test_a_longer_procedure_has_states_in_proportion_to_its_steps() -> None:
    few, many = (proven(each, each.rules) for each in (
        long_plan(small_plan(), 30), long_plan(small_plan(), 90),
    ))  # fmt: skip
    assert few.sound
    assert many.sound
    assert many.states / few.states < 3 * 1.1


def test_a_step_is_explained_with_what_holds_it_and_who_says_so() -> None:
    told = list(explained(small_plan(), "cure"))
    headings = [heading for heading, _ in told]
    assert {"needs", "establishes", "ends", "timer", "held by"} <= set(headings)
    assert ("timer", "cure, hard-minimum: at least 20 s") in told
    assert any("only after shields up. Source: test." in text for _, text in told)


def test_a_step_is_explained_by_what_needs_it_later_and_not_by_what_cannot_matter() -> None:
    told = list(explained(small_plan(), "agree"))
    assert ("needed by", "etch, agree-first: etched only after agreed. Source: test.") in told
    assert ("needed by", "etch: agreed") in told
    other = Rule("other-case", "First agree.", "test", act="etched", needs=("agreed",),
                 when=(("material", ("amalgam",)),))  # fmt: skip
    plan = small_plan(rules=(*RULES, other))
    assert not any("other-case" in text for _, text in explained(plan, "etch"))
