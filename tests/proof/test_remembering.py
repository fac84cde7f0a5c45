"""A proof is remembered while nothing that it rests on has changed."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from shutil import copytree

import pytest

from shipped_library import shipped
from sidecue.assets import data_folder
from sidecue.cli.main import run
from sidecue.procedure.loading import load_library
from sidecue.proof.cases import census, planned_again
from sidecue.proof.remembering import KEPT, code, digest, remember, remembered
from sidecue.proof.sharing_out import prove
from sidecue.proof.verdict import Proof

VISIT = "fissure-sealant"


def proved(kept: Path | None, again: bool = False) -> Proof:
    library = shipped()
    office = library.practices["example"]
    (proof,) = prove(library, office, [VISIT], workers=1, kept=kept, again=again)
    return proof


def test_an_unchanged_visit_is_not_walked_again_unless_asked(tmp_path: Path) -> None:
    first, second, third = proved(tmp_path), proved(tmp_path), proved(tmp_path, again=True)
    assert not first.remembered
    assert second.remembered
    assert (second.states, second.transitions, second.seconds) == (
        first.states, first.transitions, first.seconds,
    )  # fmt: skip
    assert not third.remembered
    assert not proved(None).remembered


def test_an_entry_that_cannot_be_read_or_tells_of_a_fault_does_not_count(tmp_path: Path) -> None:
    good = proved(tmp_path)
    (entry,) = tmp_path.glob("*.json")
    key = entry.stem.removeprefix(f"{VISIT}-")
    text = entry.read_text("utf-8")
    assert remembered(key, VISIT, tmp_path) == replace(good, remembered=True)
    for damaged in ("[]", "{}", text.replace('"explored": ', '"explored": 9'), ""):
        entry.write_text(damaged, "utf-8")
        assert remembered(key, VISIT, tmp_path) is None, damaged
    assert not proved(tmp_path).remembered
    assert proved(tmp_path).remembered, "and is made good"


def test_what_is_broken_is_never_remembered(tmp_path: Path) -> None:
    remember("0" * 64, Proof(VISIT, distinct=2, explored=1), tmp_path)
    assert list(tmp_path.iterdir()) == []


def test_only_the_newest_proofs_of_a_visit_are_kept(tmp_path: Path) -> None:
    for number in range(KEPT + 3):
        remember(f"{number:064x}", Proof(VISIT, distinct=1, explored=1), tmp_path)
    remember("0" * 64, Proof("another-visit"), tmp_path)
    assert len(list(tmp_path.glob(f"{VISIT}-*"))) == KEPT
    assert remembered("0" * 64, "another-visit", tmp_path) is not None


def test_a_folder_that_cannot_be_written_remembers_nothing(tmp_path: Path) -> None:
    blocked = tmp_path / "a-file"
    blocked.write_text("", "utf-8")
    assert not proved(blocked).remembered
    assert blocked.read_text("utf-8") == ""


def _changed(tmp_path: Path, file: str, old: str, new: str) -> Path:
    flows = tmp_path / "flows"
    copytree(data_folder("flows"), flows)
    text = (flows / file).read_text("utf-8")
    assert old in text
    (flows / file).write_text(text.replace(old, new, 1), "utf-8")
    return flows


@pytest.mark.parametrize(
    ("file", "old", "new", "changes"),
    [
        ("procedures/fissure-sealant.yaml", "needs:", "needs: ", False),  # the same data
        ("procedures/polishing.yaml", "why:", "why: Well.", False),  # another visit
        ("parts/closing.yaml", "Put every sharp", "Put each sharp", True),  # a part of this one
        ("rules.yaml", "text: dam off", "text: sheet off", True),
        ("practices/example.yaml", "20 s", "25 s", True),
    ],
)
def test_a_change_of_what_a_visit_rests_on_is_another_proof(
    tmp_path: Path, file: str, old: str, new: str, changes: bool
) -> None:
    library, other = shipped(), load_library(_changed(tmp_path, file, old, new))
    keys = [
        digest(each, replace(each.practices["example"], file=""), VISIT)
        for each in (library, other)
    ]
    assert (keys[0] != keys[1]) is changes


def test_the_digest_of_the_code_covers_the_machine_and_the_proof() -> None:
    assert len(code()) == 64
    assert code() == code()


def test_the_output_tells_what_was_walked_and_what_was_remembered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path))
    command = ["check", VISIT, "--no-words"]
    assert run(command) == 0
    assert "remembered" not in capsys.readouterr().out
    assert run(command) == 0
    out = capsys.readouterr().out
    assert "of work then, remembered" in out
    assert "walked now: 0 procedures, 0 states; remembered, for nothing" in out
    assert run([*command, "--again"]) == 0
    assert "remembered" not in capsys.readouterr().out
    assert all(json.loads(each.read_text("utf-8")) for each in tmp_path.rglob("*.json"))


def test_what_is_remembered_still_tells_which_plans_have_all_the_words(tmp_path: Path) -> None:
    library = shipped()
    office = library.practices["example"]
    proved(tmp_path)
    again = proved(tmp_path)
    assert again.remembered
    kept = list(planned_again(library, VISIT, office, again.samples))
    every = [each.variant.plan for each in census(library, VISIT, office).distinct]
    assert {step.id for made in kept for step in made.steps} == {
        step.id for made in every for step in made.steps
    }


def test_a_remembered_variant_that_is_none_is_told_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr("sidecue.cli.check_command.folder", lambda: tmp_path)
    assert run(["check", VISIT]) == 0
    (entry,) = tmp_path.glob("*.json")
    entry.write_text(entry.read_text("utf-8").replace('"sealant"', '"marble"'), "utf-8")
    capsys.readouterr()
    assert run(["check", VISIT]) == 2
    told = capsys.readouterr().err
    assert "damaged" in told
    assert "--again" in told
    assert run(["check", VISIT, "--again"]) == 0
