"""What is not there, what has not come through yet, and the clamp that the clinician chose."""

from __future__ import annotations

import pytest
from example_office import COMPOSITE, decided, planned

from sidecue.procedure.case import CaseFault

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
