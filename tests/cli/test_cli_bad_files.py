"""Files a practice writes itself, with the slips people make: one clear line, nothing stored."""

from pathlib import Path

import pytest

from sidecue.assets import data_folder

CASE = (data_folder("flows") / "cases" / "composite-46-mo.yaml").read_text("utf-8")
PRACTICE = (data_folder("flows") / "practices" / "example.yaml").read_text("utf-8")
STARTS = (["plan"], ["run", "--engine", "text", "--mute"], ["shadow", "--mute", "--pace", "0"])


def written(name: str, text: str) -> Path:
    path = Path(name)
    path.write_text(text, "utf-8")
    return path


def changed(text: str, old: str, new: str) -> str:
    assert old in text
    return text.replace(old, new, 1)


@pytest.mark.parametrize("start", STARTS, ids=lambda words: words[0])
@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        ("tooth: 46", "tooth: 49", ["case.yaml:2:", "49"]),  # ISO 3950: positions 1 to 8
        ("tooth: 46", "tooth: 96", ["case.yaml:2:", "96"]),  # ISO 3950: quadrants 1 to 8
        ("surfaces: MO", "surfaces: MI", ["case.yaml:3:", "I"]),  # molars have no incisal edge
        ("surfaces: MO", "surfaces: MQ", ["case.yaml:3:", "Q"]),
        ("material: composite", "material: plaster", ["case.yaml:4:", "plaster"]),
        ("depth-mm: 4", "depth-mm: deep", ["case.yaml:6:", "deep"]),
        ("isolation: dam", "isolation: {dam", ["case.yaml:", "broken YAML"]),
    ],
)
def test_a_slip_in_the_case_is_told_with_its_line(sidecue, stored, start, old, new, told):
    case = written("case.yaml", changed(CASE, old, new))
    line = sidecue(*start, case).trouble
    assert all(part in line for part in told), line
    assert not stored.exists()


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("", "is empty"),
        ("tooth: [", "broken YAML"),
        ("\x07", "not allowed"),
        ("- 46\n- MO\n", "mapping"),
    ],
)
def test_a_file_that_is_no_case_is_told(sidecue, text, told):
    assert told in sidecue("plan", written("case.yaml", text)).trouble


def test_a_file_that_is_not_text_is_told(sidecue):
    Path("case.yaml").write_bytes(b"tooth: \xff\xfe\n")
    assert "case.yaml:1: not UTF-8 text" in sidecue("plan", "case.yaml").trouble


def test_every_slip_of_a_file_is_told_at_once_a_line_each(sidecue):
    text = changed(changed(CASE, "composite", "plaster"), "depth-mm: 4", "depth-mm: deep")
    ran = sidecue("plan", written("case.yaml", text))
    assert ran.code == 2
    assert [line.split(":")[2] for line in ran.told] == ["4", "6"]


@pytest.mark.parametrize("start", STARTS, ids=lambda words: words[0])
def test_an_unknown_case_is_told_with_the_nearest_name(sidecue, stored, start):
    assert "did you mean 'composite-46-mo'?" in sidecue(*start, "composite-46-mod").trouble
    assert not stored.exists()


@pytest.mark.parametrize("start", STARTS, ids=lambda words: words[0])
def test_a_missing_practice_is_told(sidecue, stored, start):
    line = sidecue(*start, "--practice", "somewhere").trouble
    assert "no practice called 'somewhere'" in line
    assert "example" in line
    assert "there is no such file" in sidecue(*start, "--practice", "gone.yaml").trouble
    assert not stored.exists()


def test_an_instrument_nobody_has_is_told(sidecue):
    # The practice swaps one instrument for another, and mistypes it.
    text = changed(PRACTICE, "materials:", "instead: {spoon-excavator: sppon}\nmaterials:")
    line = sidecue("plan", "--practice", written("office.yaml", text)).trouble
    assert line.startswith("sidecue: office.yaml:")
    assert "sppon" in line


OWN = """
procedure: own
title: Eyewear only
fits: {material: [composite]}
steps:
  - step: own-eyewear
    say: Fit the patient's eyewear.
    why: Chips fly.
    hand: [patient-eyewear]
    cue: [eyewear fitted]
    establishes: [patient-eyes-covered]
"""
OWN_START = ("run", "composite-46-mo", "--procedure", "own", "--flows", "own", "--mute")


def own(text: str) -> None:
    folder = Path("own", "procedures")
    folder.mkdir(parents=True)
    written("own/procedures/own.yaml", text)


def test_a_practice_may_add_a_procedure(sidecue):
    own(OWN)
    ran = sidecue(*OWN_START, "--engine", "text", typed="okay tray eyewear fitted\n")
    assert ran.code == 0, ran.err
    assert "[own-eyewear.done]" in ran.out


@pytest.mark.parametrize("name", ["patient-eyewaer", "x-ray-gun"])
def test_an_unknown_instrument_in_a_procedure_is_told(sidecue, stored, name):
    own(changed(OWN, "patient-eyewear", name))
    line = sidecue(*OWN_START, "--engine", "text").trouble
    assert line.startswith("sidecue: own/procedures/own.yaml:9:") or "own.yaml:9:" in line
    assert name in line
    assert not stored.exists()


def test_a_word_the_engine_could_never_hear_is_told_before_the_start(sidecue, stored):
    own(changed(OWN, "[eyewear fitted]", "[zorblaxian eyewear fitted]"))
    line = sidecue(*OWN_START, "--microphone", "any").trouble
    assert 'own: cue "zorblaxian eyewear fitted"' in line
    assert 'moonshine does not know "zorblaxian"' in line
    assert not stored.exists()


def test_a_typed_visit_needs_no_lexicon(sidecue):
    own(changed(OWN, "[eyewear fitted]", "[zorblaxian eyewear fitted]"))
    typed = "okay tray zorblaxian eyewear fitted\n"
    assert sidecue(*OWN_START, "--engine", "text", typed=typed).code == 0


def test_a_folder_of_procedures_that_is_not_there_is_told(sidecue):
    assert "there is no such folder" in sidecue("plan", "--flows", "nowhere").trouble


def test_open_questions_are_told_and_nothing_starts(sidecue, stored):
    asked = sidecue("run", "--engine", "text", "--mute", "--practice", "unfinished")
    assert asked.code == 2
    assert all(line.startswith("sidecue: answer first: ") for line in asked.told)
    assert any("dentine time" in line and "unfinished.yaml" in line for line in asked.told)
    assert not stored.exists()
    planned = sidecue("plan", "--practice", "unfinished")
    assert planned.code == 1  # the plan is shown, with what it asks
    assert "dentine time" in planned.out
