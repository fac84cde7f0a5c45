"""A stored plan reads back unchanged, and its digest tells any two plans apart."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from small_library import case, library

from sidecue.procedure.exchange import plan_digest, plan_from_json, plan_to_json
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import plan


@pytest.fixture
def small_plan(tmp_path: Path) -> Plan:
    loaded = library(tmp_path)
    return plan(loaded, "filling", case(flags=["heart"]), loaded.practices["office"])


def test_a_plan_reads_back_equal(small_plan: Plan) -> None:
    back = plan_from_json(plan_to_json(small_plan, indent=2))
    assert back == small_plan
    assert plan_digest(back) == plan_digest(small_plan)


def test_any_change_changes_the_digest(small_plan: Plan) -> None:
    step = replace(small_plan.steps[0], say="Choose another shade.")
    other = replace(small_plan, steps=(step, *small_plan.steps[1:]))
    assert plan_digest(other) != plan_digest(small_plan)
    assert len(plan_digest(small_plan)) == 64


@pytest.mark.parametrize("text", ["", "{", "[]", '{"procedure": 3}', "null"])
def test_what_is_no_plan_is_one_clear_line(text: str) -> None:
    with pytest.raises(ValueError, match="not a stored plan") as caught:
        plan_from_json(text)
    assert "\n" not in str(caught.value)
