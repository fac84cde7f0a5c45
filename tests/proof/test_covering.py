"""Few plans stand for all where cues are compared: every two steps that meet are in one of them."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

from hypothesis import given
from hypothesis import strategies as st
from proof_plan import small_plan, step

from sidecue.procedure.plan import Plan
from sidecue.proof.cases import covering

NAMES = tuple("abcdefgh")
VISITS = st.lists(st.lists(st.sampled_from(NAMES), unique=True, min_size=1), max_size=12)


def with_steps(names: list[str]) -> Plan:
    return replace(small_plan(), steps=tuple(step(name) for name in names))


def pairs(visits: list[list[str]]) -> set[frozenset[str]]:
    return {frozenset(pair) for visit in visits for pair in product(visit, repeat=2)}


@given(VISITS)
def test_every_two_steps_that_meet_in_a_visit_meet_in_one_that_is_kept(
    visits: list[list[str]],
) -> None:
    kept = covering([with_steps(visit) for visit in visits])
    assert pairs([visits[number] for number in kept]) == pairs(visits)


@given(VISITS)
def test_no_visit_is_kept_that_has_nothing_new(visits: list[list[str]]) -> None:
    kept = covering([with_steps(visit) for visit in visits])
    for at, number in enumerate(kept):
        before = pairs([visits[each] for each in kept[:at]])
        assert not pairs([visits[number]]) <= before
