"""`--procedure` takes a procedure's id; whoever gives a file is told how an own one is used."""

from __future__ import annotations

from pathlib import Path

import pytest

from sidecue.assets import data_folder
from sidecue.cli.main import run

SEALANT = data_folder("flows") / "procedures" / "fissure-sealant.yaml"


@pytest.mark.parametrize("command", [("plan", "sealant-36-o"), ("materials", "check")])
@pytest.mark.parametrize("name", ["base.yaml", "./base.yaml", "nowhere.yml"])
def test_a_file_is_told_where_it_belongs(
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    command: tuple[str, ...],
    name: str,
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("base.yaml").write_text(SEALANT.read_text("utf-8"), encoding="utf-8")
    assert run([*command, "--procedure", name]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert f"--procedure takes a procedure's id, and {name!r} is the name of a file" in line
    assert "`procedures`" in line
    assert "--flows" in line
    assert "nor a file of that name" not in line


def test_what_the_line_says_works(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = tmp_path / "mine" / "procedures"
    own.mkdir(parents=True)
    text = SEALANT.read_text("utf-8").replace("procedure: fissure-sealant", "procedure: base")
    (own / "base.yaml").write_text(text, encoding="utf-8")
    asked = ["plan", "sealant-36-o", "--procedure", "base", "--flows", str(own.parent)]
    assert run(asked) == 0, capsys.readouterr().err


@pytest.mark.parametrize(
    ("name", "hint"),
    [("fissure-sealent", "did you mean 'fissure-sealant'?"), ("crown", "known: amalgam-class-1")],
)
def test_an_unknown_id_is_told_with_the_nearest(
    name: str, hint: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["plan", "sealant-36-o", "--procedure", name]) == 2
    line = capsys.readouterr().err
    assert f"no procedure called {name!r}: {hint}" in line
    assert "nor a file" not in line
