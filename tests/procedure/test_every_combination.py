"""A sample of every valid combination of case facts: each is planned, asks, or is refused with its
reason. All of them: `python -m benchmarks.planning`.
"""

from __future__ import annotations

import sys
from collections import Counter
from itertools import islice
from pathlib import Path

import pytest

from shipped_library import shipped
from sidecue.procedure.library import Library

sys.path.insert(0, str(Path(__file__).parents[2]))  # the benchmarks are no installed package

from benchmarks.planning import combinations
from benchmarks.planning.independence import GROUPS, decisions
from benchmarks.planning.trial import Tally, run

SOME_TEETH = (21, 36, 54)  # of each arch and dentition


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped()


def sampled(entries, every: int, count: int):
    return islice(entries, 0, every * count, every)


@pytest.mark.parametrize(
    ("group", "every", "count", "planned"),
    [
        ("cavities", 29, 200, 25),
        ("choices", 167, 120, 15),
        ("later", 61, 40, 15),
        ("conditions", 59, 60, 10),
        ("people", 127, 60, 10),
        ("layered", 83, 30, 2),
        ("law", 211, 30, 1),
        ("mouths", 13, 30, 20),
        ("drawers", 389, 60, 5),
    ],
)
def test_each_is_planned_or_asks_or_is_refused_with_a_reason(
    library: Library, group: str, every: int, count: int, planned: int
) -> None:
    tally = Tally()
    entries = sampled(getattr(combinations, group)(SOME_TEETH), every, count)
    run(library, library.practices["example"], entries, tally)
    assert tally.faults == []
    assert tally.cases > count / 2
    assert tally.planned >= planned
    assert tally.impossible == 0


def test_every_decision_reads_only_facts_that_some_group_crosses_whole(library: Library) -> None:
    read = decisions(library, library.practices["example"])
    assert [each for each in read if each.group is None] == []
    assert set(Counter(each.group for each in read)) == set(GROUPS)


@pytest.mark.parametrize(
    ("entry", "reason"),
    [
        ({"tooth": "11", "surfaces": "M", "material": "interim"},
         "interim filling is placed in class I, II, V or VI, not III"),
        ({"tooth": "11", "surfaces": "MI", "material": "glass-ionomer"},
         "glass ionomer is placed in class I, II, III or V, not IV"),
        ({"tooth": "46", "surfaces": "MO", "material": "glass-ionomer", "matrix": "sectional"},
         "glass ionomer is placed in class II with matrix none, band or clear-strip, "
         "not sectional"),
        ({"tooth": "46", "surfaces": "MO", "material": "resin-glass-ionomer"},
         "resin modified glass ionomer is placed in class V, not II"),
        ({"tooth": "43", "surfaces": "I", "material": "amalgam", "date": "2024-05-02"},
         "amalgam is placed in class I, II or V, not VI"),
        ({"tooth": "46", "surfaces": "MO", "material": "sealant"},
         "sealant is placed in class I, not II"),
        ({"tooth": "46", "surfaces": "O", "material": "sealant", "visit": "polishing"},
         "sealant is not polished at a later visit"),
    ],
)  # fmt: skip
def test_a_filling_no_visit_places_is_refused_with_what_the_material_is_placed_in(
    library: Library, entry: dict[str, str], reason: str
) -> None:
    tally = Tally()
    run(library, library.practices["example"], [({**entry, "isolation": "rolls"}, ())], tally)
    assert tally.no_procedure == 1, tally
    assert dict(tally.reasons) == {f"no procedure: {reason}": 1}
    assert tally.faults == []
