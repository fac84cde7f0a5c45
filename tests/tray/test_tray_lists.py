"""Tomorrow's list: good rows are printed, bad rows are told by their line."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipped_library import shipped
from sidecue.board.tray_list import pull_list, read_list
from sidecue.cli.main import run
from sidecue.procedure.library import Library
from sidecue.procedure.loading import case_from, placed_case
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.source import LoadError

HEAD = "time,chair,tooth,surfaces,material,isolation,depth-mm,anaesthetic,flags,date\n"
GOOD = "08:30,1,46,MO,composite,dam,3,lidocaine-epinephrine-100k,latex heart,\n"
ALSO = "09:15,2,14,DO,amalgam,dam,,,,2024-05-02\n"


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped()


@pytest.fixture
def listed(tmp_path: Path) -> Path:
    return tmp_path / "tomorrow.csv"


def test_rows_become_cases_with_their_hour_and_chair(listed: Path, library: Library) -> None:
    listed.write_text(HEAD + GOOD + ALSO)
    rows, faults = read_list(listed, "iso", library.cases, day="2026-03-31")
    assert not faults
    assert [row.when for row in rows] == ["08:30, chair 1", "09:15, chair 2"]
    assert [row.case.entry.tooth for row in rows] == ["46", "14"]
    assert rows[0].case.entry.flags == ["latex", "heart"]
    assert rows[0].case.entry.depth_mm == 3
    assert [str(row.case.on) for row in rows] == ["2026-03-31", "2024-05-02"]


def test_a_spreadsheet_with_semicolons_comments_and_a_mark_at_its_start(
    listed: Path, library: Library
) -> None:
    text = "\ufeffTooth;Surfaces;Material;Isolation\n# the afternoon\n\n36;O;sealant;rolls\n"
    listed.write_text(text, encoding="utf-8")
    rows, faults = read_list(listed, "iso", library.cases)
    assert not faults
    assert [row.case.entry.material for row in rows] == ["sealant"]


def test_a_shipped_case_by_name(listed: Path, library: Library) -> None:
    listed.write_text("time,case\n08:00,composite-46-mo\n09:00,no-such\n")
    rows, faults = read_list(listed, "iso", library.cases)
    assert [row.case.entry.tooth for row in rows] == ["46"]
    assert [fault.line for fault in faults] == [3]
    assert "no-such" in str(faults[0])


@pytest.mark.parametrize(
    ("row", "told"),
    [
        ("08:30,1,99,O,composite,dam,,,,\n", "tooth"),
        ("08:30,1,46,I,composite,dam,,,,\n", "surfaces"),
        ("08:30,1,46,MO,compsite,dam,,,,\n", "composite"),
        ("08:30,1,46,MO,composite,,3,,,\n", "isolation"),
        ("08:30,1,46,MO,composite,dam,deep,,,\n", "depth-mm"),
        ("08:30,1,46,MO,composite,dam,3,,latx,\n", "latex"),
        ("08:30,1,46,MO,composite,dam,3,,,tomorrow\n", "2026-03-31"),
        ("08:30,1,46,MO,composite,dam,3,,,,extra\n", "quotes"),
        ("08:30,1,46,MO,composite,dam,3,cocaine,,\n", "anaesthetic"),
    ],
)
def test_a_bad_row_is_told_by_its_line_and_the_others_are_kept(
    listed: Path, library: Library, row: str, told: str
) -> None:
    listed.write_text(HEAD + GOOD + row + ALSO)
    rows, faults = read_list(listed, "iso", library.cases)
    assert [each.line for each in rows] == [2, 4]
    assert {fault.line for fault in faults} == {3}
    assert told in str(faults[0])
    assert "\n" not in str(faults[0])


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "empty"),
        ("tooth,surfaces,material\n46,MO,composite\n", "isolation"),
        ("tooth,surfaces,material,isolation,depht-mm\n", "depth-mm"),
        ("tooth,tooth,surfaces,material,isolation\n", "twice"),
    ],
)
def test_a_list_without_proper_headings_is_told(
    listed: Path, library: Library, text: str, told: str
) -> None:
    listed.write_text(text)
    with pytest.raises(LoadError, match=told):
        read_list(listed, "iso", library.cases)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=200))
def test_no_file_breaks_the_reader(tmp_path_factory, text: str) -> None:
    path = tmp_path_factory.mktemp("lists") / "any.csv"
    path.write_text(HEAD + text, encoding="utf-8", newline="")
    rows, faults = read_list(path, "iso", {})
    assert len(rows) <= 200
    assert all(fault.line >= 1 for fault in faults)


def test_the_pull_list_counts_a_thing_once_for_each_visit(library: Library) -> None:
    office = library.practices["example"]
    plans = []
    for name in ("composite-46-mo", "sealant-36-o", "composite-46-mo"):
        case = placed_case(library.cases[name], "iso")
        chosen = choose_procedure(library, case, office)
        plans.append((name, plan(library, chosen, case, office)))
    pull = pull_list(plans, "three", lambda name: library.instruments[name].family)
    counts = {row.name: row.count for _, rows in pull.groups for row in rows}
    assert counts["mouth mirror"] == 3
    assert counts["rubber dam sheet"] == 2
    assert counts["cotton rolls"] == 1
    assert counts["Palewash Etch, lot PE0318"] == 3
    assert counts["Tidewall Sealant, lot TS4410"] == 1
    assert len(pull.visits) == 3
    wanted = {item.name for _, made in plans for item in made.tray}
    assert wanted <= counts.keys()


def test_two_open_sides_take_two_of_what_stands_in_for_them(library: Library) -> None:
    # Oracle 8: 26 MOD has two wedges; a section and a ring for each (from memory). Five surfaces of
    # amalgam, two capsules (common practice, no source).
    office = library.practices["example"]
    dam = {"notation": "iso", "isolation": "dam", "depth-mm": 3, "anaesthetic": "none"}
    plans = []
    for entry in (
        {"tooth": "26", "surfaces": "MOD", "material": "composite", **dam},
        {"tooth": "46", "surfaces": "MODBL", "material": "amalgam", "date": "2024-05-02", **dam},
    ):
        case = case_from(entry, "iso")
        chosen = choose_procedure(library, case, office)
        plans.append((str(entry["tooth"]), plan(library, chosen, case, office)))
    pull = pull_list(plans, "two", lambda name: library.instruments[name].family)
    counts = {row.name: row.count for _, rows in pull.groups for row in rows}
    assert counts["interproximal wedge"] == 4
    assert counts["sectional matrix"] == counts["separating ring"] == 2
    assert counts["pre-dosed capsule"] == 2
    assert counts["ring forceps"] == 1
    laid = {item.instrument: item.label for item in plans[0][1].tray}
    assert laid["wedge"] == "interproximal wedge, 2 of them"
    assert laid["ring-forceps"] == "ring forceps"


def test_cards_and_pull_list_from_the_command_line(tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    Path("tomorrow.csv").write_text(HEAD + GOOD + "10:00,1,99,O,composite,dam,,,,\n" + ALSO)
    assert run(["tray", "--list", "tomorrow.csv", "--pdf", "tomorrow.pdf"]) == 1
    printed = capsys.readouterr()
    assert "tomorrow.csv:3: tooth" in printed.err
    assert "Traceback" not in printed.err
    page = Path("tray.html").read_text(encoding="utf-8")
    assert page.count('<section class="card">') == 2
    assert "Pull list" in page
    assert Path("tomorrow.pdf").read_bytes().startswith(b"%PDF")


def test_one_ready_case_has_one_card_and_ends_well(tmp_path: Path, monkeypatch, capsys) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(["tray", "composite-46-mo"]) == 0
    page = Path("tray.html").read_text(encoding="utf-8")
    assert page.count('<section class="card">') == 1
    assert "Pull list" not in page


@pytest.mark.parametrize(
    "arguments",
    [
        ["tray"],
        ["tray", "no-such-case"],
        ["tray", "--list", "no-such.csv"],
        ["tray", "composite-46-mo", "--day", "tomorrow"],
        ["tray", "composite-46-mo", "--html", "no/such/folder/t.html"],
    ],
)
def test_what_cannot_be_done_is_one_line(tmp_path, monkeypatch, capsys, arguments) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(arguments) == 2
    told = capsys.readouterr().err.splitlines()
    assert len(told) == 1
    assert told[0].startswith("sidecue: ")
