"""Numbers a practice cannot have meant are told where they stand, before any case is planned."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from small_library import FILES

from shipped_library import shipped
from sidecue.assets import data_folder
from sidecue.procedure.case import case_of
from sidecue.procedure.loading import load_practice
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import CaseFile
from sidecue.procedure.source import LoadError

EXAMPLE = (data_folder("flows") / "practices" / "example.yaml").read_text("utf-8")
DEEPEST = {"tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam",
           "depth-mm": 15}  # fmt: skip


def own(folder: Path, text: str) -> Practice:
    path = folder / "own.yaml"
    path.write_text(text, encoding="utf-8")
    return load_practice(path, shipped())


def told(folder: Path, passage: str, damage: str) -> str:
    """Return the one line about the example practice with `damage` in place of `passage`."""
    assert passage in EXAMPLE
    with pytest.raises(LoadError) as caught:
        own(folder, EXAMPLE.replace(passage, damage, 1))
    (fault,) = caught.value.faults
    line = EXAMPLE[: EXAMPLE.index(passage)].count("\n") + 1
    assert (Path(fault.file).name, fault.line) == ("own.yaml", line)
    return f"{fault.what}: {fault.mend}"


@pytest.mark.parametrize("thin", ["0.01", "0.001", "0.7", "6", "0", "-2", "nan"])
def test_no_composite_is_laid_in_layers_that_cannot_be_counted_or_cured(
    tmp_path: Path, thin: str
) -> None:
    line = told(tmp_path, "increment-mm: 2", f"increment-mm: {thin}")
    assert line == (
        f"'increment-mm' is {float(thin):g}, which cannot be: "
        "enter what the instructions give, from 0.75 to 5 mm"
    )


def test_the_thinnest_layers_still_fill_the_deepest_cavity(tmp_path: Path) -> None:
    office = own(tmp_path, EXAMPLE.replace("increment-mm: 2", "increment-mm: 0.75", 1))
    case = case_of(CaseFile.model_validate(DEEPEST), "iso")
    made = plan(shipped(), choose_procedure(shipped(), case, office), case, office,
                date(2026, 3, 31))  # fmt: skip
    assert any("twenty" in step.say for step in made.steps), [step.say for step in made.steps]
    assert not made.blocks


@pytest.mark.parametrize("dose", ["16000", "0.016", "-16"])
def test_a_dose_in_another_unit_is_told(tmp_path: Path, dose: str) -> None:
    line = told(tmp_path, "target-joules-per-cm2: 16", f"target-joules-per-cm2: {dose}")
    assert line.endswith("enter what the instructions give, from 1 to 100 J/cm2")


@pytest.mark.parametrize(
    ("written", "slip"), [("1.2", "1.2 W/cm2 is 1200 mW/cm2"), ("1", "1 W/cm2 is 1000 mW/cm2")]
)
def test_a_light_entered_in_watts_is_told_with_the_unit(
    tmp_path: Path, written: str, slip: str
) -> None:
    line = told(tmp_path, "irradiance: 1000", f"irradiance: {written}")
    assert line == (
        f"irradiance {written} is not a light's: "
        f"enter what the meter shows in mW/cm2, at least 50 ({slip})"
    )


@pytest.mark.parametrize("written", ["0", "-5", "49", "10000"])
def test_an_output_that_no_curing_light_has_is_refused(tmp_path: Path, written: str) -> None:
    line = told(tmp_path, "irradiance: 1000", f"irradiance: {written}")
    assert line.startswith(f"irradiance {written} is not a light's")
    assert "mW/cm2" in line


def test_a_weak_light_is_only_warned_about(tmp_path: Path) -> None:
    assert own(tmp_path, EXAMPLE.replace("irradiance: 1000", "irradiance: 50")).irradiance == 50


def test_a_reading_at_a_distance_is_in_the_same_unit(tmp_path: Path) -> None:
    line = told(tmp_path, "irradiance: 1000}", "irradiance: 1000, at-mm: {4: 0.86}}")
    assert line == (
        "0.86 mW/cm2 at 4 mm cures nothing: enter what the meter shows in mW/cm2, at least 50 "
        "(0.86 W/cm2 is 860 mW/cm2), or leave this distance out"
    )


@pytest.mark.parametrize("written", ['"0:00"', '"00:00"', "0 s"])
def test_no_instructions_ask_for_no_time_at_all(tmp_path: Path, written: str) -> None:
    line = told(tmp_path, "scrub: 20 s", f"scrub: {written}")
    assert "not a time" in line


NUMBERS = st.one_of(
    st.sampled_from(["0", "-1", "nan", "inf", "text", "[]", "[1]", "{a: 1}", "~", "true", '""']),
    st.floats(-1e6, 1e6, allow_nan=False).map(lambda value: f"{value:.4f}"),
    st.integers(-10, 10**14).map(str),
)


@given(NUMBERS, NUMBERS, NUMBERS)
def test_whatever_number_is_entered_it_is_planned_with_or_told(
    tmp_path_factory: pytest.TempPathFactory, irradiance: str, layer: str, dose: str
) -> None:
    text = (
        EXAMPLE.replace("irradiance: 1000", f"irradiance: {irradiance}")
        .replace("increment-mm: 2", f"increment-mm: {layer}")
        .replace("target-joules-per-cm2: 16", f"target-joules-per-cm2: {dose}")
    )
    try:
        office = own(tmp_path_factory.getbasetemp(), text)
    except LoadError as error:
        found = error.faults
    else:
        case = case_of(CaseFile.model_validate(DEEPEST), "iso")
        plan(shipped(), "composite-class-2", case, office, date(2026, 3, 31))
        return
    assert all(fault.line > 1 and fault.mend for fault in found)


def test_the_small_office_is_sound(tmp_path: Path) -> None:
    assert own(tmp_path, FILES["practices/office.yaml"]).irradiance == 600
