"""`sidecue materials check` tells what a plan would refuse, before a case comes that falls into
it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from sidecue.assets import data_folder
from sidecue.cli.main import run

EXAMPLE = (data_folder("flows") / "practices" / "example.yaml").read_text("utf-8")
Check = Callable[[str, str], tuple[int, str]]


@pytest.fixture
def check(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Check:
    """Return what the check says of the example with one passage changed, and its exit code."""

    def checked(passage: str, change: str) -> tuple[int, str]:
        assert passage in EXAMPLE
        own = tmp_path / "own.yaml"
        own.write_text(EXAMPLE.replace(passage, change, 1), encoding="utf-8")
        code = run(["materials", "check", "--practice", str(own), "--day", "2026-03-31"])
        said = capsys.readouterr()
        return code, (said.out + said.err).replace(str(own), "own.yaml")

    return checked


def test_etching_times_that_cannot_both_be_kept_are_told_with_their_line(check: Check) -> None:
    code, said = check("enamel: 15 s, enamel-most: 30 s", "enamel: 45 s, enamel-most: 30 s")
    assert code == 2
    line = EXAMPLE[: EXAMPLE.index("enamel: 15 s")].count("\n") + 1
    assert f"own.yaml:{line}: 'enamel' is 45 s and 'enamel-most' is 30 s" in said
    assert "nothing is missing" not in said


def test_layers_too_thick_for_a_composite_that_is_not_bulk_fill(check: Check) -> None:
    code, said = check("increment-mm: 2,", "increment-mm: 3,")
    assert code == 1
    assert "refused: Brackenfil Universal: 3 mm increment of conventional composite" in said
    assert "composite-class-2" in said
    assert said.endswith("1 refused in Fernbrook Dental Room\n")


def test_a_bulk_fill_may_be_laid_thicker(check: Check) -> None:
    code, said = check("increment-mm: 4,", "increment-mm: 5,")
    assert (code, said) == (0, "Fernbrook Dental Room: nothing is missing\n")


def test_steps_that_hang_together_are_left_out_together_or_not_at_all(check: Check) -> None:
    code, said = check("leave-out: [brush-seal, shield-seal, cure-seal]", "leave-out: [brush-seal]")
    assert code == 1
    assert "refused: leave-out: step 'brush-seal' cannot be left out" in said
    assert "correct it in own.yaml" in said


def test_a_floor_beyond_the_lights_last_reading(check: Check) -> None:
    code, said = check("irradiance: 1000}", "irradiance: 1000, at-mm: {2: 900}}")
    assert code == 1
    assert "refused: until answered, What does the meter read for Lumipin 3 curing light at" in said
    assert "for composite-class-2" in said
    assert "enter it under `at-mm:` of `light:` in own.yaml" in said


@pytest.mark.parametrize("notation", ["notation: universal", "notation: ~"])
def test_cases_are_tried_whatever_notation_the_practice_writes(check: Check, notation: str) -> None:
    code, said = check("notation: iso", f"{notation}\ninstead: {{}}")
    assert (code, said) == (0, "Fernbrook Dental Room: nothing is missing\n")
