"""What is answered to a step's own cue: its beginning, its end, and a refusal of either."""

from __future__ import annotations

import pytest
from builder import visit_at

from sidecue.session.effects import Chime, ChimeKind, Say


def test_a_beginning_is_chimed_and_nothing_is_said_over_the_work() -> None:
    going = visit_at("cure.begin")
    done = going.state.done
    going.cue("cure.begin")
    assert going.effects == (Chime(ChimeKind.HEARD),)
    assert (going.state.step, going.state.under_way) == ("cure", True)
    assert going.state.done == done, "it is under way, not done"


def test_an_end_is_chimed_before_the_next_step_is_said() -> None:
    going = visit_at("shield.done").cue("shield.done")
    assert going.effects[0] == Chime(ChimeKind.HEARD)
    assert going.said == ["Do the cure.", "Hand curing light."]
    assert going.state.done[-1] == "shield"


def test_the_last_end_is_chimed_before_the_visit_is_closed() -> None:
    going = visit_at("tidy.done").cue("tidy.done")
    assert going.effects[0] == Chime(ChimeKind.HEARD)
    assert all(isinstance(effect, Say) for effect in going.effects[1:])


@pytest.mark.parametrize(
    ("at", "cue"),
    [("rinse.begin", "rinse.done"), ("rinse.done", "rinse.done"), ("agree.done", "cure.begin"),
     ("agree.done", "skip"), ("count.done", "leave.done")],
)  # fmt: skip
def test_a_refusal_names_the_cue_it_refuses(at: str, cue: str) -> None:
    going = visit_at(at).cue(cue)
    assert [refusal.cue for refusal in going.refusals] == [cue]
    assert going.chimes == ["refused"]
