"""A warning comes before what it warns of, and a least time before a most; whoever wrote the number
is told."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from example_office import AMALGAM, office, planned
from small_library import FILES, changed, library
from test_practice_numbers import EXAMPLE, own, told

from sidecue.procedure.source import LoadError

BONDING = "parts/bonding.yaml"


@pytest.mark.parametrize(
    ("passage", "damage", "line"),
    [
        ('warn: "3:00", work: "3:30"', 'warn: "9:00", work: "0:30"',
         "'warn' is 9:00 and 'work' is 0:30, so timer 'packing' would never warn"),
        ('warn: "3:00", work: "3:30"', 'warn: "3:30", work: 210 s',
         "'warn' is 3:30 and 'work' is 210 s, so timer 'packing' would never warn"),
        ("dentine: 15 s, dentine-warn: 12 s", "dentine: 15 s, dentine-warn: 40 s",
         "'dentine-warn' is 40 s and 'dentine' is 15 s, so timer 'dentine-etch' would never warn"),
        ("least: 1 min, most: 2 min", "least: 1 min, most: 30 s",
         "'least' is 1 min and 'most' is 30 s, so timer 'topical' would never warn"),
        ("enamel: 15 s, enamel-most: 30 s", "enamel: 45 s, enamel-most: 30 s",
         "'enamel' is 45 s and 'enamel-most' is 30 s, so timer 'enamel-etch' could not be kept"),
    ],
)  # fmt: skip
def test_a_products_times_must_follow_one_another(
    tmp_path: Path, passage: str, damage: str, line: str
) -> None:
    assert told(tmp_path, passage, damage) == f"{line}: read the instructions again"


def test_a_topical_that_is_wiped_off_as_soon_as_it_works_is_told_at_that_moment(
    tmp_path: Path,
) -> None:
    text = EXAMPLE.replace("least: 1 min, most: 2 min", "least: 1 min, most: 1 min")
    assert own(tmp_path, text).name == "Fernbrook Dental Room"


@pytest.mark.parametrize(
    ("timer", "line"),
    [
        ("kind: hard-maximum\n        warn: 50\n        most: 5",
         "'warn' is 50 s and 'most' is 5 s, so timer 'etching' would never warn"),
        ("kind: window\n        least: 9\n        most: 5",
         "'least' is 9 s and 'most' is 5 s, so timer 'etching' could not be kept"),
        ("kind: window\n        least: 5\n        warn: 9\n        most: 9",
         "'warn' is 9 s and 'most' is 9 s, so timer 'etching' would never warn"),
    ],
)  # fmt: skip
def test_a_procedures_own_seconds_must_follow_one_another(
    tmp_path: Path, timer: str, line: str
) -> None:
    shipped = "kind: window\n        least: etchant.enamel\n        most: etchant.enamel-most"
    with pytest.raises(LoadError) as caught:
        library(tmp_path, changed(BONDING, shipped, timer))
    (fault,) = caught.value.faults
    assert (Path(fault.file).name, fault.what) == ("bonding.yaml", line)
    at = FILES[BONDING][: FILES[BONDING].index("kind: window")].count("\n") + 1
    assert fault.line == at + 1 + ("least: 5" in timer)


def test_seconds_of_a_procedure_and_a_products_time_are_compared_too(tmp_path: Path) -> None:
    damaged = changed(BONDING, "most: etchant.enamel-most", "most: 12")
    with pytest.raises(LoadError) as caught:
        library(tmp_path, damaged)
    (fault,) = caught.value.faults
    assert Path(fault.file).name == "office.yaml"
    assert fault.what == (
        "'enamel' is 15 s and the procedure says 12 s, so timer 'etching' could not be kept"
    )


def test_a_carving_time_unusual_for_the_alloy_is_read_again() -> None:
    quick = tuple(
        replace(each, times={**each.times, "carve": 90.0}) if each.role == "amalgam" else each
        for each in office().materials
    )
    made = planned(office(materials=quick), tooth="14", surfaces="DO", **AMALGAM)
    assert made.startable
    (told_,) = [each.text for each in made.warnings if "carve" in each.text]
    assert told_ == ("amalgam carve of 90 s, usual is at least 270 s: check the instructions")
