"""What sidecue did not write it never replaces in passing: the practice's own files are safe."""

from pathlib import Path

import pytest

CASE = "sealant-36-o"
OFFICE = "name: our practice\naddress: okay tray\n"


@pytest.fixture
def office(home) -> Path:
    path = Path("office.yaml")
    path.write_text(OFFICE, "utf-8")
    return path


@pytest.mark.parametrize(
    "words",
    [
        ("advice", "--case", CASE, "--html"),
        ("tray", CASE, "--html"),
        ("tray", CASE, "--pdf"),
        ("export", "scxml", CASE, "--out"),
        ("run", CASE, "--engine", "text", "--say-to"),
        ("shadow", CASE, "--to"),
    ],
)
def test_a_file_that_sidecue_did_not_write_stays(sidecue, office, words):
    line = sidecue(*words, office).trouble
    assert "office.yaml: this file is there already" in line
    assert "another name" in line
    assert "--force" in line
    assert office.read_text("utf-8") == OFFICE
    assert [path.name for path in Path().iterdir() if path.is_file()] == ["office.yaml"]


@pytest.mark.parametrize(
    ("words", "name"),
    [
        (("advice", "--case", CASE, "--html"), "page.html"),
        (("tray", CASE, "--html"), "page.html"),
        (("tray", CASE, "--pdf"), "card.pdf"),
        (("export", "scxml", CASE, "--out"), "plan.scxml"),
        (("export", "ssml", CASE, "--out"), "prompts"),
    ],
)
def test_what_sidecue_wrote_is_written_again(sidecue, words, name):
    assert sidecue(*words, name).code == 0
    assert sidecue(*words, name).code == 0


def test_tomorrow_s_card_takes_the_place_of_today_s(sidecue):
    assert sidecue("tray", CASE).code == 0
    assert sidecue("tray", "composite-46-mo").code == 0
    assert "46 MO" in Path("tray.html").read_text("utf-8")


def test_force_replaces_it(sidecue, office):
    assert sidecue("export", "scxml", CASE, "--out", office, "--force").code == 0
    assert office.read_text("utf-8").startswith("<?xml")


def test_of_many_files_none_is_written_where_one_is_not_ours(sidecue):
    Path("prompts").mkdir()
    Path("prompts/advise.ssml").write_text("my own\n", "utf-8")
    line = sidecue("export", "ssml", CASE, "--out", "prompts").trouble
    assert "prompts/advise.ssml: this file is there already" in line
    assert [path.name for path in Path("prompts").iterdir()] == ["advise.ssml"]


def test_a_page_and_its_pdf_need_two_names(sidecue):
    line = sidecue("tray", CASE, "--html", "t1.html", "--pdf", "./t1.html").trouble
    assert "t1.html: two files of the same name" in line
    assert not Path("t1.html").exists()
