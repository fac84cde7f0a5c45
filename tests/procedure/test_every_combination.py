"""A sample of every valid combination of case facts: each is planned, asks, or is refused with its
reason. All of them: `python -m benchmarks.planning`.
"""

from __future__ import annotations

import sys
from collections import Counter
from itertools import islice
from pathlib import Path

import pytest

from sidecue.assets import data_folder
from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_library

sys.path.insert(0, str(Path(__file__).parents[2]))  # the benchmarks are no installed package

from benchmarks.planning import combinations
from benchmarks.planning.independence import GROUPS, decisions
from benchmarks.planning.trial import Tally, run

SOME_TEETH = (21, 36, 54)  # of each arch and dentition


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(data_folder("flows"))


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


def test_a_filling_no_visit_places_is_refused_in_words(library: Library) -> None:
    """Interim class III and amalgam class VI have no visit: a clear refusal, never a guess."""
    tally = Tally()
    entries = [
        {"tooth": "11", "surfaces": "M", "material": "interim", "isolation": "rolls"},
        {"tooth": "43", "surfaces": "I", "material": "amalgam", "isolation": "rolls",
         "date": "2024-05-02"},
    ]  # fmt: skip
    run(library, library.practices["example"], [(entry, ()) for entry in entries], tally)
    assert tally.no_procedure == len(entries), tally
    assert tally.reasons["no procedure"] == len(entries)
