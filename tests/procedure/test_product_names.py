"""A slip in a name of the practice's file is told with the name that was meant; what may be there
on purpose is only remarked on."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_library import FILES, changed, library
from test_practice_numbers import EXAMPLE, own, told

from shipped_library import shipped
from sidecue.cli.main import run
from sidecue.procedure.loading import load_practice
from sidecue.procedure.product_names import name_remarks, product_names
from sidecue.procedure.source import LoadError

SCRUB = "times: {scrub: 20 s, air: 5 s, cure: 10 s}"
OFFICE, BONDING = "practices/office.yaml", "parts/bonding.yaml"


@pytest.mark.parametrize(
    ("passage", "damage", "line"),
    [
        (SCRUB, SCRUB.replace("cure", "cur"),
         "no procedure asks for the time 'cur' of adhesive: did you mean 'cure'?"),
        ("dentine-warn: 12 s", "dentine-warning: 12 s",
         "no procedure asks for the time 'dentine-warning' of etchant: "
         "did you mean 'dentine-warn'?"),
        ("increment-mm: 2,", "increment-m: 2,",
         "unknown number 'increment-m': did you mean 'increment-mm'?"),
        ("numbers: {target-joules-per-cm2: 16}", "numbers: {dose: 16}",
         "unknown number 'dose': use one of increment-mm, target-joules-per-cm2"),
        ("role: etchant", "role: etchent",
         "no procedure asks for a product in the role 'etchent': did you mean 'etchant'?"),
    ],
)  # fmt: skip
def test_a_slip_is_told_with_the_name_that_was_meant(
    tmp_path: Path, passage: str, damage: str, line: str
) -> None:
    assert told(tmp_path, passage, damage).startswith(line)


@pytest.mark.parametrize(
    ("passage", "change", "remark"),
    [
        (SCRUB, SCRUB.replace("cure: 10 s", "cure: 10 s, cure2: 20 s"),
         "Holdfern Bond: no procedure asks for its cure2 time"),
        (SCRUB, SCRUB.replace("cure: 10 s", "cure: 10 s, open-in: 10 min"),
         "Holdfern Bond: no procedure asks for its open in time"),
        ("role: cleaning-paste", "role: whitening",
         "Plainpumice Powder: no procedure asks for a product in the role 'whitening'"),
    ],
)  # fmt: skip
def test_what_may_be_there_on_purpose_is_only_remarked_on(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], passage: str, change: str, remark: str
) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(EXAMPLE.replace(passage, change, 1), encoding="utf-8")
    run(["materials", "check", "--practice", str(path), "--day", "2026-03-31"])
    assert f"note: {remark}\n" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["example", "unfinished"])
def test_every_name_of_the_shipped_practices_is_asked_for(name: str) -> None:
    names = product_names(each.model for each in shipped().procedures.values())
    assert list(name_remarks(shipped().practices[name], names)) == []


def test_what_the_offices_own_procedures_ask_for_is_no_slip(tmp_path: Path) -> None:
    """The same file, without and with the procedures that it was written for."""
    asks = changed(BONDING, "least: etchant.rinse", "least: etchant.rinse-off")
    asks[OFFICE] = asks[OFFICE].replace("rinse: 15 s", "rinse-off: 15 s")
    loaded = library(tmp_path / "home", asks)
    text = FILES[OFFICE].replace("rinse: 15 s", "rinse-off: 15 s")
    path = tmp_path / "own.yaml"
    path.write_text(text, encoding="utf-8")
    assert load_practice(path, loaded).name == "Larchwood Dental Room"
    with pytest.raises(LoadError, match="did you mean 'rinse'"):
        own(tmp_path, text)


def test_a_slip_of_a_procedure_is_not_told_of_the_practice_as_well(tmp_path: Path) -> None:
    with pytest.raises(LoadError) as caught:
        library(tmp_path, changed(BONDING, "least: etchant.rinse", "least: etchant.rinze"))
    assert {Path(fault.file).name for fault in caught.value.faults} == {"bonding.yaml"}
