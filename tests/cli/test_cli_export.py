"""`sidecue export`: a file for a plan, a folder for its moments, one line for what is wrong."""

from __future__ import annotations

from xml.etree import ElementTree

import pytest

from sidecue.exchange.formats import FORMATS

CASE = "sealant-36-o"


@pytest.mark.parametrize("name", [each.name for each in FORMATS.values() if each.whole])
def test_a_whole_plan_is_printed_or_written_as_one_file(sidecue, tmp_path, name: str) -> None:
    out = tmp_path / "plan.txt"
    printed = sidecue("export", name, CASE)
    assert printed.code == 0
    assert sidecue("export", name, CASE, "--out", out).code == 0
    assert out.read_text("utf-8") == printed.out


@pytest.mark.parametrize("name", ["jsgf", "srgs", "ssml"])
def test_the_moments_of_a_visit_go_to_a_folder_of_files(sidecue, tmp_path, name: str) -> None:
    folder = tmp_path / "new" / "folder"
    ran = sidecue("export", name, CASE, "--out", folder)
    files = sorted(folder.iterdir())
    assert f"wrote {len(files)} files" in ran.out
    assert folder / f"etch-fissure{FORMATS[name].suffix}" in files
    one = sidecue("export", name, CASE, "--moment", "etch-fissure")
    assert one.out == (folder / f"etch-fissure{FORMATS[name].suffix}").read_text("utf-8")
    if name != "jsgf":
        ElementTree.fromstring(one.out)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (["smcxl"], "did you mean scxml?"),
        (["picture"], "known: scxml, graphviz"),
        (["jsgf", CASE], "name a folder with --out, or one with --moment"),
        (["scxml", CASE, "--moment", "etch-fissure"], "it is one file; leave --moment out"),
        (["srgs", CASE, "--moment", "etch-fisure"], "did you mean etch-fissure"),
        (["scxml", "seelant-36-o"], "did you mean 'sealant-36-o'?"),
        (["scxml", CASE, "--out", "no/such/folder/x.scxml"], "there is no such file or folder"),
    ],
)
def test_what_cannot_be_given_out_is_told_in_one_line(sidecue, words, told: str) -> None:
    assert told in sidecue("export", *words).trouble
