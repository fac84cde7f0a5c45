"""A sample of every valid combination of case facts: each is planned, asks, or is refused with its
reason. All of them: `python -m benchmarks.planning`.
"""

from __future__ import annotations

import sys
from itertools import islice
from pathlib import Path

import pytest

from sidecue.assets import data_folder
from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_library

sys.path.insert(0, str(Path(__file__).parents[2]))  # the benchmarks are no installed package

from benchmarks.planning import combinations
from benchmarks.planning.trial import Tally, run

CAVITIES, CHOICES, PATIENTS = 250, 150, 100
SOME_TEETH = (21, 36, 54)  # of each arch and dentition


@pytest.fixture(scope="module")
def library() -> Library:
    return load_library(data_folder("flows"))


def sampled(entries, every: int, count: int):
    return islice(entries, 0, every * count, every)


@pytest.mark.parametrize(
    ("entries", "every", "count"),
    [
        (combinations.cavities, 29, CAVITIES),
        (combinations.choices, 137, CHOICES),
        (combinations.patients, 131, PATIENTS),
    ],
)
def test_each_is_planned_or_asks_or_is_refused_with_a_reason(
    library: Library, entries, every: int, count: int
) -> None:
    tally = Tally()
    run(library, library.practices["example"], sampled(entries(SOME_TEETH), every, count), tally)
    assert tally.faults == []
    assert tally.cases > count / 2
    assert tally.planned > tally.cases / 8
    assert tally.impossible == 0


def test_a_filling_no_visit_places_is_refused_in_words(library: Library) -> None:
    """Interim class III and amalgam class VI have no visit: a clear refusal, never a guess."""
    tally = Tally()
    entries = [
        {"tooth": "11", "surfaces": "M", "material": "interim", "isolation": "rolls"},
        {"tooth": "43", "surfaces": "I", "material": "amalgam", "isolation": "rolls",
         "date": "2024-05-02"},
    ]  # fmt: skip
    run(library, library.practices["example"], entries, tally)
    assert tally.no_procedure == len(entries), tally
    assert tally.reasons["no procedure"] == len(entries)
