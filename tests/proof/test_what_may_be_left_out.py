"""What a visit may leave out: optional steps, and what the laws let stay undone."""

from __future__ import annotations

from dataclasses import replace

import pytest
from benchmarks.proof.killing import planned
from proof_plan import STEPS, changed, small_plan, step

from shipped_library import shipped
from sidecue.procedure.plan import Plan
from sidecue.proof.demands import Bits
from sidecue.proof.laws import laws, may_stay_undone
from sidecue.proof.leaving_out import wrongly_left_out


def left_out(plan: Plan) -> list[str]:
    return list(wrongly_left_out(plan, Bits()))


def test_an_optional_step_may_be_left_out_and_no_other() -> None:
    plan = small_plan(changed("leave", needs=("counted",)))
    assert left_out(plan) == ["leave can be left out, without gone"]  # the last: nobody asks for it
    strict = replace(plan, steps=tuple(replace(each, optional=False) for each in plan.steps))
    assert "look can be left out, without looked" in left_out(strict)


def test_a_need_that_was_dropped_shows_in_what_can_be_left_out() -> None:
    """Nobody needs the count before leaving: it could be skipped."""
    sound = small_plan()
    free = small_plan(rules=sound.rules[:3])
    assert "count can be left out, without counted" in left_out(free)
    assert "count can be left out, without counted" not in left_out(sound)


@pytest.mark.parametrize("case", ["composite-46-mo", "amalgam-14-do", "sealant-36-o"])
def test_every_shipped_step_that_can_be_left_out_may_be(case: str) -> None:
    assert left_out(planned(shipped(), case)) == []


def test_a_layer_with_its_light_may_be_left_out_and_the_light_alone_may_not() -> None:
    """A cavity is often shallower than it was planned for; paste without light stays soft."""
    layers = (
        step("layer", needs=("cured",), establishes=("soft",), voids=("cured",)),
        step("light", needs=("soft",), establishes=("cured",), voids=("soft",)),
    )
    plan = small_plan((*STEPS[:6], *layers, *STEPS[6:]))
    assert not any("layer" in what or "light" in what for what in left_out(plan))
    unneeded = tuple(replace(each, needs=()) if each.id == "mix" else each for each in plan.steps)
    assert "light can be left out, without cured" in left_out(replace(plan, steps=unneeded))
    assert not any(what.startswith("layer to light") for what in left_out(plan))


@pytest.mark.parametrize(
    ("case", "left", "fact"),
    [
        ("composite-46-mo", "wedge-out", "wedge-seated"),
        ("amalgam-14-do", "band-out", "band-seated"),
        ("composite-46-mo", "ring-off", "ring-on"),
    ],
)
def test_nothing_between_the_teeth_can_be_left_there(case: str, left: str, fact: str) -> None:
    """The counts are never agreed over a wedge, a ring or a band that is still in."""
    plan = planned(shipped(), case)
    guarding = [rule for rule in plan.rules if fact in rule.never and "counts-agreed" in rule.never]
    assert guarding
    assert not any(what.startswith(f"{left} can be left out") for what in left_out(plan))


def test_every_fact_that_may_stay_undone_exists() -> None:
    for law in laws().may_stay_undone:
        assert set(law.facts) <= set(shipped().facts)
        assert law.why
        assert law.source


def test_what_may_stay_undone_depends_on_the_case() -> None:
    """A seal nobody checked is one thing under an interim filling, another under resin."""
    composite = may_stay_undone(planned(shipped(), "composite-46-mo"))
    assert "matrix-sealed" not in composite
    assert "numb" in composite
    interim = replace(small_plan(), case_facts=(("material", ("interim",)), ("matrix", ("band",))))
    assert "matrix-sealed" in may_stay_undone(interim)
