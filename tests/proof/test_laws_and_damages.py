"""The laws beside the interlocks, the case variants, and a sample of the damaged procedures."""

from __future__ import annotations

from pathlib import Path

import pytest
from benchmarks.proof.damages import Damage, damages
from benchmarks.proof.killing import Trial
from benchmarks.proof.likeness import SideBySide, in_either_order, needs_alone, refusing_alike
from benchmarks.proof.synthetic import long_plan
from proof_plan import RULES, STEPS, changed, small_plan

from shipped_library import shipped
from sidecue.assets import data_folder
from sidecue.procedure.plan import Rule
from sidecue.proof.atlas import Atlas
from sidecue.proof.cases import census, signature, variants_of
from sidecue.proof.explaining import explained
from sidecue.proof.laws import laws, time_faults
from sidecue.proof.proving import proven

FILES = (
    "parts/adhesive.yaml", "parts/increments.yaml", "parts/closing.yaml", "parts/cavity.yaml",
    "parts/rubber-dam-placement.yaml", "parts/rubber-dam-removal.yaml", "parts/anaesthesia.yaml",
)  # fmt: skip

VISITS = ("amalgam-class-1", "composite-class-1")  # between them they have every one of the files

pytestmark = pytest.mark.xdist_group("damages")  # what all of them start from takes long to make


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
    for first in laws().first:
        assert first.source
        assert known.issuperset((first.act, *first.needs))
    for bar in laws().not_while:
        assert bar.source
        assert known.issuperset((bar.fact, *bar.facts))
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
def trial() -> Trial:
    return Trial(Path(data_folder("flows")), VISITS)


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
        ("swap-steps", "open-cavity before guard-neighbour", "exploration"),
        ("swap-steps", "log-anaesthetic before recap", "exploration"),
        ("swap-steps", "flush-lines before bin-sharps", "exploration"),
        ("drop-void", "dam-off no longer ends septa-through", "exploration"),
        ("drop-establish", "save-record no longer establishes record-saved", "exploration"),
        ("drop-read-back", "recheck-tooth is not read back", "exploration"),
        ("timer-kind", "flush-lines: flush counts down", "laws"),
    ],
)
def test_a_damaged_procedure_is_refused_before_anyone_runs_it(
    made: list[Damage], trial: Trial, kind: str, what: str, by: str | None
) -> None:
    damage = next(each for each in made if each.kind == kind and each.what.startswith(what))
    outcome = trial.tried(damage)
    assert outcome.by
    assert outcome.by == (by or outcome.by)


@pytest.mark.parametrize(
    ("name", "needs", "alike"),
    [
        ("pack", ("mixed", "cured"), True),  # whoever mixed had cured before
        ("etch", (), True),  # an interlock asks for the agreement anyway
        ("pack", (), False),  # the mixing could be left out
        ("count", (), False),
    ],
)
def test_a_dropped_need_is_told_apart_from_one_that_changes_nothing(
    name: str, needs: tuple[str, ...], alike: bool
) -> None:
    """Both ways of telling: by what is refused in every state, and in lockstep."""
    sound, damaged = small_plan(), small_plan(changed(name, needs=needs))
    assert needs_alone(sound, damaged)
    assert (refusing_alike(sound, damaged, RULES, Atlas()) == "") is alike
    assert (SideBySide(sound, damaged, RULES).difference() is None) is alike


def test_a_fact_that_is_not_lost_shows_in_lockstep_where_something_reads_it() -> None:
    sound, damaged = small_plan(), small_plan(changed("cure", voids=("shields-up",)))
    assert not needs_alone(sound, damaged)
    assert SideBySide(sound, damaged, RULES).difference() is not None
    unread = small_plan(changed("cure", voids=("light-on",)))
    assert SideBySide(sound, unread, RULES).difference() is None


def test_two_steps_change_places_only_when_neither_concerns_the_other() -> None:
    plan = small_plan()
    look, etch = (next(s for s in STEPS if s.id == name) for name in ("look", "etch"))
    paint, dry = (next(s for s in STEPS if s.id == name) for name in ("paint", "dry"))
    shield, cure = (next(s for s in STEPS if s.id == name) for name in ("shield", "cure"))
    assert in_either_order(plan, look, shield)
    assert not in_either_order(plan, look, etch), "saliva leads back to etching"
    assert not in_either_order(plan, paint, dry), "drying ends the clock of the paint"
    assert not in_either_order(plan, shield, cure)


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
