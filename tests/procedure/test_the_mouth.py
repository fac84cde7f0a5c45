"""What is not there, what has not come through yet, the clamp that the clinician
chose, the dentine that is left, and how far the light is from the floor."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from example_office import AMALGAM, COMPOSITE, decided, office, planned

from sidecue.assets import data_folder
from sidecue.procedure.case import CaseFault
from sidecue.procedure.loading import load_practice
from sidecue.procedure.source import LoadError

MOUTHS = [
    # Anchor: most distal tooth, usually one distal to the treated one (article of August 2024);
    # with none behind it, the treated tooth itself (from memory).
    ({"tooth": "46", "missing": ["47"]}, "46", "46 45 44 43 42 41 31 32"),
    ({"tooth": "46", "missing": ["47", "44"]}, "46", "46 45 43 42 41 31 32"),
    # Eruption chart of a national dental association (from memory).
    ({"tooth": "46", "age-years": 8}, "46", "46 85 84 83 42 41 31 32"),
    ({"tooth": "46", "age-years": 34}, "47", "47 46 45 44 43 42 41 31 32"),
]


@pytest.mark.parametrize(("mouth", "anchor", "teeth"), MOUTHS)
def test_the_dam_is_that_of_this_mouth(mouth: dict[str, object], anchor: str, teeth: str) -> None:
    made = planned(surfaces="MO", **COMPOSITE, **mouth)
    found = decided(made)
    assert f" on {anchor}, tied" in found["clamp"]
    assert found["teeth through the dam"] == teeth
    digits = " ".join({"4": "four", "6": "six", "7": "seven"}[each] for each in anchor)
    assert f"Seat clamp on {digits}, lingual jaws first." in [step.say for step in made.steps]


@pytest.mark.parametrize(
    ("more", "told"),
    [
        # Clamp 212 on a molar is queried, 14A is a molar clamp: trade numbering (from memory).
        ({"clamp": "212"}, "clamp 212 is a cervical clamp"), ({"clamp": "14A"}, None),
        ({"clamp": "999"}, "not a number of these tables"),
        # No neighbour, no contact: common practice, no source.
        ({"missing": ["45"]}, "no tooth on the mesial side"), ({"missing": ["36"]}, None),
    ],
)  # fmt: skip
def test_a_doubtful_clamp_or_a_missing_neighbour_is_told(
    more: dict[str, object], told: str | None
) -> None:
    made = planned(tooth="46", surfaces="MO", **COMPOSITE, **more)
    plain = {each.text for each in planned(tooth="46", surfaces="MO", **COMPOSITE).warnings}
    new = [each.text for each in made.warnings if each.text not in plain]
    assert len(new) == (told is not None)
    assert all(told in each for each in new if told is not None)
    assert made.startable


@pytest.mark.parametrize("written", ["46", "19", "molar"])
def test_a_missing_tooth_that_cannot_be_is_a_fault(written: str) -> None:
    with pytest.raises(CaseFault) as caught:
        planned(tooth="46", surfaces="MO", **COMPOSITE, missing=[written])
    assert caught.value.key == "missing"
    assert caught.value.mend


@pytest.mark.parametrize(
    ("material", "remaining", "told"),
    [
        # Depth bands of operative dentistry tables (from memory); calcium hydroxide, covered, at
        # 0.5 mm or less: Clin Cosmet Investig Dent 2017. Base and dentine make 2 mm together.
        (AMALGAM, 2.5, "2.5 mm of dentine under amalgam: resin sealer; the clinician decides"),
        (AMALGAM, 1.5, "1.5 mm of dentine under amalgam: base, then resin sealer, the base 0.5 mm; "
         "the clinician decides"),
        (COMPOSITE, 0.4, "0.4 mm of dentine under composite: calcium hydroxide, then resin glass "
         "ionomer, then adhesive; the clinician decides"),
        (COMPOSITE, 1.5, "1.5 mm of dentine under composite: adhesive; the clinician decides"),
        (COMPOSITE, None, None),
    ],
)  # fmt: skip
def test_what_tables_put_on_the_dentine_that_is_left_is_shown_and_not_done(
    material: dict[str, object], remaining: float | None, told: str | None
) -> None:
    case = {**material, "tooth": "46", "surfaces": "DO", "remaining-dentine-mm": remaining}
    made = planned(**case)
    assert decided(made).get("liner tables") == told
    assert not [step.id for step in made.steps if step.part == "liner"]


@pytest.mark.parametrize(
    ("surfaces", "more", "readings", "seconds", "warned"),
    [
        # IADR 2013 abstract 176031: 1012 to 864 at 4 mm needs 19 s for 16 J/cm2, 2758 to 806 needs
        # 20 s; lights differ, so the light's own readings count, the next further one.
        ("MO", {}, {4: 864}, 19, False), ("MO", {"depth-mm": 3}, {4: 806}, 20, False),
        ("O", {}, {4: 806}, 16, False), ("O", {"tip-distance-mm": 4}, {4: 806}, 20, False),
        ("MO", {}, {}, 16, True), ("MO", {"depth-mm": 3}, {}, 16, False), ("O", {}, {}, 16, False),
    ],
)  # fmt: skip
def test_a_light_far_from_the_floor_counts_as_it_was_measured_there(
    surfaces: str, more: dict[str, object], readings: dict[int, float], seconds: int, warned: bool
) -> None:
    quick = tuple(
        replace(each, times={**each.times, "cure": 1.0}) if each.role == "composite" else each
        for each in office().materials
    )
    practice = office(materials=quick, light_at=readings)
    made = planned(practice, tooth="46", surfaces=surfaces, **{**COMPOSITE, **more})
    assert {t.least for step in made.steps for t in step.timers if t.name == "cure"} == {seconds}
    assert decided(made)["light"].startswith(f"{seconds} s a layer")
    assert any("mm from the tip" in each.text for each in made.warnings) is warned


def test_a_distance_nobody_measured_is_asked_for() -> None:
    case = {**COMPOSITE, "depth-mm": 6, "tooth": "46", "surfaces": "MO"}
    made = planned(office(light_at={4: 864}), **case)
    assert [each.id for each in made.questions] == ["light:distance"]
    assert "light" not in decided(made)


def test_a_reading_above_that_at_the_tip_is_a_fault_with_its_line(tmp_path: Path) -> None:
    shipped = (data_folder("flows") / "practices/example.yaml").read_text("utf-8")
    far = shipped.replace("irradiance: 1000}", "irradiance: 1000, at-mm: {4: 1100}}")
    (tmp_path / "office.yaml").write_text(far, "utf-8")
    with pytest.raises(LoadError, match="1100 mW/cm2 at 4 mm cannot be"):
        load_practice(tmp_path / "office.yaml")
