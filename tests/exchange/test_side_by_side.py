"""An independent SCXML interpreter (python-statemachine) runs the exported document; after every
event of a random visit it holds what our own machine holds."""

from __future__ import annotations

import pytest
from benchmarks.exchange.side_by_side import SideBySide

from sidecue.exchange.scxml import scxml

SEQUENCES = 15
#: Chance decides which visit first comes to what is wrong: saliva on what is rinsed, one in nine.
SEARCHED = 60


@pytest.fixture(scope="module")
def pair(small):
    return SideBySide(small)


def test_after_every_event_both_hold_the_same(pair) -> None:
    parted = [(seed, found) for seed in range(SEQUENCES) if (found := pair.run(seed)) is not None]
    assert parted == []
    # Random visits are worth something only when they come to what is hard.
    for hard in ("step done", "left out", "undone", "undone, physical fact stands", "went back",
                 "question lapsed", "timer rang", "value recorded", "emergency", "paused",
                 "finished", "not listened for"):  # fmt: skip
        assert pair.happened[hard] > 0, hard


def test_a_shipped_visit_runs_the_same(sealant) -> None:
    pair = SideBySide(sealant)
    assert [pair.run(seed) for seed in (1, 2)] == [None, None]
    assert pair.happened["step done"] > 20


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        ("f_counted == 1", "f_counted >= 0"),  # a need nobody asks for
        ('location="f_rinsed" expr="0"', 'location="f_rinsed" expr="1"'),  # saliva does no harm
        ('location="t_enamel" expr="0"', 'location="t_enamel" expr="t_enamel"'),  # acid never off
        ("[2, now, 15.0, ", "[2, now, 10.0, "),  # etched for too short a time
        ("undo_depth &lt; 8", "undo_depth &lt; 7"),
    ],
)
def test_a_document_that_says_something_else_is_found_out(small, right: str, wrong: str) -> None:
    document = scxml(small)
    assert right in document
    pair = SideBySide(small, document.replace(right, wrong))
    assert any(pair.run(seed) is not None for seed in range(SEARCHED))
