"""`sidecue practice begin`: a practice's file to fill in, in which nothing is guessed."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from sidecue.assets import data_folder
from sidecue.cli.main import run

EXAMPLE = yaml.load(
    (data_folder("flows") / "practices" / "example.yaml").read_text("utf-8"), yaml.BaseLoader
)
HEAD = {
    "practice": "Alder Room", "jurisdiction": "other", "adhesive": "total-etch",
    "notation": "iso",
}  # fmt: skip


@pytest.fixture
def begun(tmp_path: Path) -> Path:
    file = tmp_path / "mine.yaml"
    assert run(["practice", "begin", str(file)]) == 0
    return file


def test_the_next_thing_to_do_is_said(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.yaml"
    assert run(["practice", "begin", str(file)]) == 0
    assert f"sidecue materials check --practice {file}" in capsys.readouterr().out


def test_no_time_and_no_product_is_filled_in(begun: Path) -> None:
    data = yaml.safe_load(begun.read_text("utf-8"))
    assert data["practice"] is data["jurisdiction"] is data["adhesive"] is None
    assert data["light"] == {"product": None, "irradiance": None, "at-mm": {}}
    times = [time for each in data["materials"] for time in each.get("times", {}).values()]
    assert len(times) > 30
    assert set(times) == {None}
    assert {each["product"] for each in data["materials"]} == {None}
    assert not any(each.get("numbers") for each in data["materials"])


def test_every_time_says_what_it_means(begun: Path) -> None:
    (line,) = [each for each in begun.read_text("utf-8").splitlines() if "dentine-warn:" in each]
    assert line.endswith('# hard maximum: warned at, counted from "gel on dentine"')


def test_it_asks_for_all_that_the_example_practice_has(begun: Path) -> None:
    data = yaml.safe_load(begun.read_text("utf-8"))
    asked = {each["role"]: set(each.get("times", ())) for each in data["materials"]}
    has = {each["role"]: set(each.get("times", ())) for each in EXAMPLE["materials"]}
    assert {role: asked[role] for role in has} == has


def test_what_is_left_empty_is_told_line_by_line(
    begun: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["materials", "check", "--practice", str(begun)]) == 2
    told = capsys.readouterr().err
    line = begun.read_text("utf-8").splitlines().index(
        next(each for each in begun.read_text("utf-8").splitlines() if each.startswith("practice:"))
    ) + 1  # fmt: skip
    assert f"{begun}:{line}: 'practice' is empty: write text" in told
    assert "Traceback" not in told


def filled(text: str, *, times: bool) -> str:
    """Return the form as an office would fill it in, from the example's drawer."""
    for key, value in HEAD.items():
        text = re.sub(rf"(?m)^{key}: .*$", f"{key}: {value}", text)
    text = text.replace("  product: ", "  product: Glow ", 1)
    text = re.sub(r"(?m)^  irradiance: .*$", "  irradiance: 1000", text)
    drawer = {each["role"]: each for each in reversed(EXAMPLE["materials"])}
    drawer["drying-agent"] = {"kind": "air", "product": "Draught"}
    role, lines = "", []
    for line in text.splitlines():
        name = line.split("#")[0].strip()
        if line.startswith("  - role: "):
            role = line.removeprefix("  - role: ")
        lines.append(_entered(line, name, drawer.get(role, {}), times=times))
    return "\n".join(lines)


def _entered(line: str, name: str, product: dict, *, times: bool) -> str:
    if not product:
        return line
    if line.startswith(("    product:", "    kind:")):
        return f"    {name} {product[name.rstrip(':')]}"
    if line.startswith("    supply:"):
        return "    supply: capsule"
    if times and line.startswith("      "):
        return f'      {name} "{product["times"][name.rstrip(":")]}"'
    if times and line.startswith("    numbers:"):
        given = ", ".join(f"{each}: {value}" for each, value in product["numbers"].items())
        return f"    numbers: {{{given}}}"
    return line


def test_filled_in_without_times_every_time_is_asked_for(
    begun: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    begun.write_text(filled(begun.read_text("utf-8"), times=False), encoding="utf-8")
    assert run(["materials", "check", "--practice", str(begun)]) == 1
    out = capsys.readouterr().out
    assert "missing: Palewash Etch: its dentine time" in out
    assert "missing: Brackenfil Universal: increment mm" in out


def test_filled_in_nothing_is_missing(begun: Path, capsys: pytest.CaptureFixture[str]) -> None:
    begun.write_text(filled(begun.read_text("utf-8"), times=True), encoding="utf-8")
    assert run(["materials", "check", "--practice", str(begun)]) == 0, capsys.readouterr()
    assert "Alder Room: nothing is missing" in capsys.readouterr().out
    assert run(["plan", "composite-46-mo", "--practice", str(begun)]) == 0


def test_a_file_that_is_there_is_never_written_over(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text("practice: Alder Room\n", encoding="utf-8")
    assert run(["practice", "begin", str(file)]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert line == f"sidecue: {file} is there already: nothing was written, name another"
    assert file.read_text("utf-8") == "practice: Alder Room\n"


def test_a_place_that_cannot_be_is_one_clear_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["practice", "begin", str(tmp_path / "no" / "mine.yaml")]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
