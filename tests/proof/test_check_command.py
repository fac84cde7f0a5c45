"""`sidecue check` and `sidecue explain`, from the command line."""

from __future__ import annotations

import pytest

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
    out = capsys.readouterr().out
    assert "rinse-before-adhesive" in out
    assert "Source:" in out
    assert run(["explain", "rub-adhesiv"]) == 2
    assert "rub-adhesive" in capsys.readouterr().err
