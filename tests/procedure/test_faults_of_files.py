"""A damaged library is told fault by fault, each with its file, its line and how to mend it."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_library import FILES, changed, library, write

from sidecue.procedure.loading import load_case, load_library, load_practice
from sidecue.procedure.source import Fault, LoadError

FILLING, BONDING = "procedures/filling.yaml", "parts/bonding.yaml"
OFFICE = "practices/office.yaml"


def faults_of(folder: Path, files: dict[str, str]) -> tuple[Fault, ...]:
    with pytest.raises(LoadError) as caught:
        library(folder, files)
    return caught.value.faults


def line_of(name: str, passage: str) -> int:
    """Return the line of the sound file on which `passage` begins."""
    return FILES[name][: FILES[name].index(passage)].count("\n") + 1


def test_the_small_library_is_sound(tmp_path: Path) -> None:
    loaded = library(tmp_path)
    assert loaded.visits == ("filling",)
    assert set(loaded.procedures) == {"filling", "bonding"}


DAMAGE = [
    # file, passage, damage, the fault, its mend
    ("cues.yaml", "address: okay tray", "address: tray",
     "the address phrase 'tray' is one word", "use two words or more"),
    (BONDING, "hand: [etch-syringe,", "hand: [etch-syring,",
     "unknown instrument 'etch-syring'", "did you mean 'etch-syringe'?"),
    (BONDING, "caution: [acid-splash]", "caution: [acid-slash]",
     "unknown caution 'acid-slash'", "did you mean 'acid-splash'?"),
    (BONDING, "establishes: [rinsed]", "establishes: [rinced]",
     "unknown fact 'rinced'", "did you mean 'rinsed'?"),
    (FILLING, "include: bonding", "include: bondin",
     "unknown include 'bondin'", "did you mean 'bonding'?"),
    (BONDING, "stops: [etching]", "stops: [itching]",
     "unknown timer 'itching'", "did you mean 'etching'?"),
    (BONDING, "most: etchant.enamel-most", "most: enamel",
     "'enamel' is not a time", "write seconds, a material's time"),
    (BONDING, "least: etchant.rinse", "least: etchant.rinze",
     "no practice here has the time 'etchant.rinze'", "did you mean 'etchant.rinse'?"),
    (BONDING, "least: etchant.rinse", "warn: 5",
     "a hard-minimum timer has no `least`", "add `least:`"),
    (BONDING, "back-to: etch", "back-to: itch", "unknown step 'itch'", "did you mean 'etch'?"),
    (BONDING, "say: Etch tooth {tooth_digits}.", "say: Etch tooth {tooth_digit}.",
     "prompt 'Etch tooth {tooth_digit}.' has the unknown word {tooth_digit}", "correct it"),
    (BONDING, "say: Rinse as long as you etched.", "say: Rinse it well as long as you have etched.",
     "can be 9 words, at most 8", "shorten"),
    (FILLING, "for {surfaces}.", "for all {surfaces}.", "can be 9 words", "shorten"),
    (BONDING, "optional: true", "settles: true",
     "step 'admire' settles by values and asks for none", "add `asks:`"),
    (BONDING, "optional: true", "asks: [shades]", "'asks' is 'shades'", "did you mean 'shade'?"),
    (BONDING, "cue: [water off]", "cue: [water 0ff]",
     "phrase 'water 0ff' cannot be spoken as written", "lower-case words only"),
    (BONDING, "cue: [water off]", "cue: [water-off]",
     "phrase 'water-off' cannot be spoken as written", "no hyphens or digits"),
    (BONDING, "cue: [water off]", "cue: [water on]",
     "phrase 'water on' means 'rinse done' here and 'rinse begun' in", "use another phrase"),
    (BONDING, "cue: [water off]", "cue: [pause procedure]",
     "phrase 'pause procedure' means 'rinse done' here and 'pause' in", "use another phrase"),
    (BONDING, "heard: [saliva got in]", "heard: [rinse your mouth]",
     "means 'saliva' here and 'a decoy' in", "use another phrase"),
    (BONDING, "cue: [frost is seen]", "cue: [water off]",
     "phrase 'water off' would complete 'rinse' and then 'admire'", "use another phrase"),
    (FILLING, 'cue: ["layer {n_word} is in"]', 'cue: ["layer {n} is in"]',
     "has {n}, which is not spoken here", "filled in with words"),
    (BONDING, "step: rinse\n", "step: etch\n", "step 'etch' is there twice", "an id of its own"),
    (BONDING, "  - step: rinse\n", "  - step: rinse-{n}\n",
     "'rinse-{n}' has braces that are not filled in here", "inside a repeat"),
    (BONDING, "  - step: admire", "  - step: admire\n    wen: {isolation: [dam]}",
     "unknown key 'wen'", "did you mean 'when'?"),
    (BONDING, "kind: window", "kind: windo", "'kind' is 'windo'", "did you mean 'window'?"),
    (BONDING, "caution: [acid-splash]", "caution: acid-splash",
     "'caution' is 'acid-splash'", "write a list"),
    (BONDING, "when: {adhesive: [total-etch, selective-etch]}\n  - step: rinse",
     "when: {adhesives: [total-etch]}\n  - step: rinse",
     "unknown case fact 'adhesives'", "did you mean 'adhesive'?"),
    (BONDING, "when: {isolation: [rolls]}", "when: {isolation: [rols]}",
     "'isolation' is never 'rols'", "did you mean 'rolls'?"),
    (FILLING, "    why: Dry teeth look lighter.\n", "", "'why' is missing", "add `why:`"),
    (FILLING, "establishes: [shade-recorded]", "establishes: []",
     "step 'etch' needs 'shade-recorded', which no earlier step establishes",
     "establish 'shade-recorded' before this include"),
    (BONDING, "    cue: [etch is on]\n", "    cue: [etch is on]\n    zzz: 1\n",
     "unknown key 'zzz'", "use one of"),
    ("rules.yaml", "act: etched, needs: [shade-recorded]", "act: etched, needs: [rinsed]",
     "step 'etch' breaks the interlock 'shade-first'", "change what stands before this include"),
    ("rules.yaml", "act: etched, needs: [shade-recorded]", "act: etched",
     "rule 'shade-first' has neither of the two forms", "give `act` and `needs`"),
    ("rules.yaml", "- {fact: rinsed,", "- {fact: etched,",
     "fact 'etched' is there twice", "give it a name of its own"),
    ("rules.yaml", "never: [layer-placed, polished]", "never: [layer-place, polished]",
     "unknown fact 'layer-place'", "did you mean 'layer-placed'?"),
    ("advice.yaml", "after: [cured]", "after: [cures]", "unknown fact 'cures'", "'cured'?"),
    ("cues.yaml", "D EH N T IY N", "D EH N T IY NN", "has no phone 'NN'", "write phones"),
    ("cues.yaml", "tier: stop", "tier: stopp", "'tier' is 'stopp'", "did you mean 'stop'?"),
    ("emergencies.yaml", "Rinse the eye with water.",
     "Rinse the eye with a lot of clean water now.", "can be 10 words", "shorten"),
    ("instruments.yaml", "family: light, reprocessing: barrier}\n  - {instrument: spare-light",
     "family: lights, reprocessing: barrier}\n  - {instrument: spare-light",
     "'family' is 'lights'", "did you mean 'light'?"),
    (OFFICE, "rinse: 15 s", "rinse: soon", "'rinse' is 'soon', not a time", "15 s, 1.5 min"),
    (OFFICE, "irradiance: 600", "irradiance: 0", "irradiance 0 is not a light's", "mW/cm2"),
    (OFFICE, "adhesive: total-etch", "adhesive: total-etch\nleave-out: [etch]",
     "step 'etch' is not optional", "use one of admire"),
    (OFFICE, "adhesive: total-etch", "adhesive: total-etch\ninstead: {light: torch}",
     "unknown instrument 'torch'", "use one of"),
    (OFFICE, "adhesive: total-etch",
     "adhesive: total-etch\nwording: {etch: Now please etch this tooth with the acid gel.}",
     "the prompt of step 'etch' can be 9 words", "shorten"),
    (OFFICE, "role: etchant", "role: etchant, color: blue", "unknown key 'color'", "use one of"),
    ("cases/molar.yaml", "tooth: 46", "tooth: 49", "tooth: tooth '49'", "check the number"),
    ("cases/molar.yaml", "surfaces: MO", "surfaces: MI", "an occlusal surface", "has "),
    ("cases/molar.yaml", "depth-mm: 3", "depth-mm: 33", "depth-mm: 33 cannot be", "up to 15"),
    ("cases/molar.yaml", "depth-mm: 3", "depth-mm: 3\nmatrix: clear-strip",
     "takes sectional or band", "choose one of those"),
]  # fmt: skip


@pytest.mark.parametrize(("name", "passage", "damage", "what", "mend"), DAMAGE)
def test_damage_is_told_with_its_line_and_mend(
    tmp_path: Path, name: str, passage: str, damage: str, what: str, mend: str
) -> None:
    faults = faults_of(tmp_path, changed(name, passage, damage))
    told = [fault for fault in faults if what in fault.what]
    assert len(told) == 1, [str(fault) for fault in faults]
    assert mend in told[0].mend
    assert Path(told[0].file).is_file()
    assert str(told[0]).startswith(f"{told[0].file}:{told[0].line}: ")


@pytest.mark.parametrize(
    ("name", "passage", "damage", "line_passage"),
    [
        (BONDING, "caution: [acid-splash]", "caution: [acid-slash]", "caution: [acid-splash]"),
        (BONDING, "stops: [etching]", "stops: [itching]", "stops: [etching]"),
        (BONDING, "back-to: etch", "back-to: itch", "back-to: etch"),
        (FILLING, "include: bonding", "include: bondin", "- include: bonding"),
        (FILLING, "needs: [layer-placed]", "needs: [polished]", "needs: [layer-placed]"),
        (OFFICE, "role: composite", "role: composite, color: red", "- {role: composite"),
    ],
)
def test_a_fault_names_the_line_it_is_on(
    tmp_path: Path, name: str, passage: str, damage: str, line_passage: str
) -> None:
    faults = faults_of(tmp_path, changed(name, passage, damage))
    place = str(tmp_path / name), line_of(name, line_passage)
    assert place in {(fault.file, fault.line) for fault in faults}


def test_a_part_included_too_early_is_the_fault_of_who_includes_it(tmp_path: Path) -> None:
    """The part is sound where another visit includes it."""
    mine = FILES[FILLING].replace("procedure: filling", "procedure: mine")
    mine = mine.replace("establishes: [shade-recorded]", "establishes: []")
    files = {**FILES, "procedures/mine.yaml": mine}
    told = [fault for fault in faults_of(tmp_path, files) if "shade-recorded" in fault.what]
    line = mine[: mine.index("- include: bonding")].count("\n") + 1
    needy = line_of(BONDING, "needs: [shade-recorded]")
    assert {(Path(each.file).name, each.line) for each in told} == {("mine.yaml", line)}
    assert told[0].what.startswith(
        "part 'bonding' cannot stand here: step 'etch' needs 'shade-recorded', "
        "which no earlier step establishes"
    )
    assert told[0].what.endswith(f"bonding.yaml:{needy})")
    assert told[0].mend == ("establish 'shade-recorded' before this include, or leave the part out")


def test_what_is_wrong_wherever_a_part_is_included_is_told_once_in_the_part(
    tmp_path: Path,
) -> None:
    mine = FILES[FILLING].replace("procedure: filling", "procedure: mine")
    files = {**changed(BONDING, "needs: [etched]", "needs: [cured]"), "procedures/mine.yaml": mine}
    told = [fault for fault in faults_of(tmp_path, files) if "needs 'cured'" in fault.what]
    assert [(Path(each.file).name, each.line) for each in told] == [
        ("bonding.yaml", line_of(BONDING, "needs: [etched]"))
    ]


def test_all_faults_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    files = {
        **FILES,
        "cautions.yaml": "cautions: [\n",
        BONDING: FILES[BONDING].replace("voids: [etched", "voids: [itched"),
        OFFICE: FILES[OFFICE].replace("enamel: 15 s", "enamel: fifteen"),
        "cases/molar.yaml": "tooth: 46\n",
    }
    faults = faults_of(tmp_path, files)
    assert {Path(fault.file).name for fault in faults} == {
        "cautions.yaml", "bonding.yaml", "office.yaml", "molar.yaml"
    }  # fmt: skip


def test_one_unreadable_file_does_not_make_its_users_look_wrong(tmp_path: Path) -> None:
    (fault,) = faults_of(tmp_path, {**FILES, "instruments.yaml": "instruments: [\n"})
    assert Path(fault.file).name == "instruments.yaml"


def test_parts_that_include_each_other_in_a_circle_are_told(tmp_path: Path) -> None:
    files = changed(BONDING, "steps:\n", "steps:\n  - include: filling\n")
    told = [fault.what for fault in faults_of(tmp_path, files)]
    assert "'bonding' includes itself through 'filling'" in told


def test_a_part_no_visit_includes_is_told(tmp_path: Path) -> None:
    part = FILES[BONDING].replace("procedure: bonding", "procedure: spare")
    files = {**FILES, "parts/spare.yaml": part.replace("happening: saliva", "happening: spit")}
    told = [fault.what for fault in faults_of(tmp_path, files)]
    assert "no visit includes 'spare'" in told


def test_a_file_that_is_in_no_place_is_told(tmp_path: Path) -> None:
    files = {**FILES, "procedure/late.yaml": "a: 1\n", "parts/old.yml": "a: 1\n"}
    told = {Path(fault.file).name for fault in faults_of(tmp_path, files)}
    assert told == {"late.yaml", "old.yml"}


def test_a_missing_file_and_a_missing_folder_are_told(tmp_path: Path) -> None:
    files = {name: text for name, text in FILES.items() if name != "rules.yaml"}
    (fault,) = faults_of(tmp_path, files)
    assert (Path(fault.file).name, fault.what) == ("rules.yaml", "the file is missing")
    with pytest.raises(LoadError, match="there is no such folder"):
        load_library(tmp_path / "nowhere")


def test_the_own_folder_adds_and_never_replaces(tmp_path: Path) -> None:
    home, own = write(tmp_path / "home"), tmp_path / "own"
    case = FILES["cases/molar.yaml"]
    write(own, {"cases/other.yaml": case.replace("46", "36")})
    assert set(load_library(home, [own]).cases) == {"molar", "other"}
    write(own, {"cases/molar.yaml": case})
    with pytest.raises(LoadError, match="case file 'molar' is there twice"):
        load_library(home, [own])


def test_a_need_only_some_cases_lack_names_such_a_case(tmp_path: Path) -> None:
    damage = "needs: [rinsed]\n    cue: [frost is seen]"
    faults = faults_of(tmp_path, changed(BONDING, "cue: [frost is seen]", damage))
    assert "for adhesive self-etch" in " ".join(fault.what for fault in faults)


def test_a_practice_of_ones_own_is_checked_against_the_library(tmp_path: Path) -> None:
    loaded = library(tmp_path / "home")
    own = tmp_path / "own.yaml"
    own.write_text(FILES[OFFICE] + "instead: {light: torch}\n", encoding="utf-8")
    with pytest.raises(LoadError, match=r"own\.yaml:\d+: unknown instrument 'torch'"):
        load_practice(own, loaded)
    own.write_text(FILES[OFFICE], encoding="utf-8")
    assert load_practice(own, loaded).name == "Larchwood Dental Room"


def test_a_practice_may_not_be_addressed_by_one_word(tmp_path: Path) -> None:
    text = FILES[OFFICE]
    own = tmp_path / "own.yaml"
    own.write_text(f"address: hey tray\n{text}", "utf-8")
    assert load_practice(own).address == "hey tray"
    own.write_text(f"address: tray\n{text}", "utf-8")
    with pytest.raises(LoadError) as caught:
        load_practice(own)
    (fault,) = caught.value.faults
    assert fault.line == 1
    assert "'tray' is one word" in fault.what


def test_a_case_of_ones_own_names_its_line(tmp_path: Path) -> None:
    own = tmp_path / "mine.yaml"
    own.write_text("material: composite\nisolation: dam\ntooth: 11\nsurfaces: O\n")
    with pytest.raises(LoadError) as caught:
        load_case(own, "iso")
    (fault,) = caught.value.faults
    assert fault.line == 4
    assert "an incisal edge, not an occlusal surface" in fault.what
