"""`sidecue check` and `sidecue explain`, from the command line."""

from __future__ import annotations

import pytest

from sidecue.cli import check_command
from sidecue.cli.main import run


def test_one_case_is_proven_and_its_states_are_counted(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--case", "sealant-36-o", "--no-words"]) == 0
    out = capsys.readouterr().out
    assert "fissure-sealant" in out
    assert " states, " in out
    assert "broken" not in out


def test_an_unknown_procedure_is_told_in_one_line(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "no-such-visit"]) == 2
    assert "no procedure called 'no-such-visit'" in capsys.readouterr().err


def test_a_step_is_explained_with_its_interlocks_and_sources(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["explain", "rub-adhesive"]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert "held by rinse-before-adhesive" in out
    assert "needed by thin-adhesive, rub-before-air" in out
    assert "caution Uncured resin passes through gloves" in out
    assert "Source:" in out
    assert "varnish" not in out, "nothing in a composite visit paints it"
    assert run(["explain", "rub-adhesiv"]) == 2
    assert "rub-adhesive" in capsys.readouterr().err


def test_a_step_of_another_procedure_is_found_in_a_case_that_has_it(
    capsys: pytest.CaptureFixture[str],
) -> None:
    assert run(["explain", "run-mixer"]) == 0
    assert "amalgam" in capsys.readouterr().out
    assert run(["explain", "run-mixer", "--case", "composite-46-mo"]) == 2
    assert "--case amalgam-14-do" in capsys.readouterr().err


def test_the_words_of_one_case_are_those_of_its_own_visit(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    looked_at: list[str] = []
    real = check_command.sounds_of
    monkeypatch.setattr(
        check_command,
        "sounds_of",
        lambda plans: looked_at.extend(each.procedure for each in plans) or real(plans),
    )
    assert run(["check", "--case", "sealant-36-o"]) == 0
    assert looked_at == ["fissure-sealant"]
    assert "pairs of phrases active together" in capsys.readouterr().out
