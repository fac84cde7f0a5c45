"""What may be said as a value: phrases from clinical data, that mean one thing each."""

from __future__ import annotations

from itertools import chain

import pytest
from value_chair import plan_for

from shipped_library import shipped
from sidecue.hearing.numbers import parse
from sidecue.procedure.exchange import plan_from_json, plan_to_json
from sidecue.procedure.loading import load_practice
from sidecue.procedure.plan import Plan, Slot
from sidecue.procedure.slots import digits_said
from sidecue.procedure.source import LoadError
from sidecue.procedure.vocabulary import normalise_phrase

PLAN = plan_for(weight_kg=None)


def slot(name: str, plan: Plan = PLAN) -> Slot:
    return next(each for each in plan.slots if each.id == name)


def phrases(name: str, plan: Plan = PLAN) -> dict[str, str]:
    return {v.value: v.cue.phrases[0] for v in slot(name, plan).values}


def test_shades_are_those_of_the_product():
    # The signs of a shade are said one by one: common practice, no source.
    said = phrases("shade")
    assert said["A2"] == "shade a two"
    assert said["A3.5"] == "shade a three point five"
    materials = {each.role: each for each in PLAN.materials}
    assert tuple(said) == materials["composite"].shades


@pytest.mark.parametrize("name", ["weight", "depth"])
def test_digits_are_said_singly_and_read_back_to_the_value(name):
    for value, phrase in phrases(name).items():
        digits = " ".join(phrase.split()[1:-1])
        number = parse(digits)
        assert number is not None
        assert number.text == value
        assert digits == number.read_back


def test_no_teen_and_no_ten_is_ever_a_value():
    # "fifteen" and "fifty" sound alike; digits do not: common practice in read-back.
    words = {w for s in PLAN.slots for v in s.values for p in v.cue.phrases for w in p.split()}
    assert not [word for word in words if word.endswith(("teen", "ty"))]
    assert {"weight fifteen kilos", "weight fifty kilos"} <= set(PLAN.decoys)


@pytest.mark.parametrize(
    ("age", "least", "most"), [(None, 3, 150), (7, 3, 80), (15, 3, 150), (34, 30, 150)]
)
def test_weights_fit_the_age(age, least, most):
    weights = [int(value) for value in phrases("weight", plan_for(weight_kg=None, age_years=age))]
    assert (weights[0], weights[-1]) == (least, most)
    assert weights == list(range(least, most + 1))


def test_a_cartridge_entry_names_its_solution_and_halves():
    said = phrases("cartridges")
    assert said["lidocaine-epinephrine-100k:1"] == "half a cartridge lidocaine"
    assert said["lidocaine-epinephrine-100k:2"] == "one cartridge lidocaine"
    assert said["articaine-epinephrine-200k:3"] == "one and a half cartridges articaine"
    assert said["mepivacaine-plain:4"] == "two cartridges mepivacaine"


def test_the_tooth_is_that_of_the_plan_and_every_other_one_of_the_mouth_disagrees():
    # Thirty-two permanent teeth: ISO 3950.
    teeth = slot("tooth")
    assert [v.value for v in teeth.values] == ["46"]
    assert teeth.values[0].cue.phrases == (
        "tooth number four six", "patient's lower right first molar",
    )  # fmt: skip
    assert teeth.others is not None
    assert len(teeth.others.phrases) == 31 * 2
    assert "tooth number four seven" in teeth.others.phrases
    primary = slot("tooth", plan_for(tooth="84", age_years=7))
    assert primary.others is not None
    assert len(primary.others.phrases) == 19 * 2


def test_surfaces_one_away_disagree():
    others = slot("surfaces").others
    assert others is not None
    assert {
        "surfaces mesial",
        "surfaces distal occlusal",
        "surfaces mesial occlusal distal",
    } <= set(others.phrases)
    assert "surfaces mesial occlusal" not in others.phrases


def test_every_phrase_means_one_thing_and_none_begins_another_of_another_value():
    every = [v.cue for each in PLAN.slots for v in each.values]
    every += [each.others for each in PLAN.slots if each.others is not None]
    said = list(chain.from_iterable(cue.phrases for cue in every))
    assert len(said) == len(set(said))
    assert not set(said) & set(PLAN.decoys)
    assert all(phrase == normalise_phrase(phrase) for phrase in (*said, *PLAN.decoys))
    done = [step.done.phrases for step in PLAN.steps if step.asks]
    for phrase in chain.from_iterable(done):
        assert not [each for each in said if phrase.startswith(each) or each.startswith(phrase)]


def test_no_value_is_asked_for_that_cannot_be_said():
    plain = plan_for(anaesthetic="none")
    assert {each.id for each in plain.slots} == {"tooth", "surfaces", "shade", "depth"}
    assert plain.anaesthetic is None
    asked = {name for step in plain.steps for name in step.asks}
    assert asked == {each.id for each in plain.slots}
    without_shades = plan_for(material="amalgam", date="2024-05-02", sealer="none", matrix=None)
    assert "shade" not in {each.id for each in without_shades.slots}


def test_a_plan_with_slots_reads_back_from_its_text():
    assert plan_from_json(plan_to_json(PLAN)) == PLAN


@pytest.mark.parametrize(("number", "said"), [(70, "seven zero"), (105, "one zero five")])
def test_digits(number, said):
    assert digits_said(number) == said


OFFICE = """\
practice: Office of the Tests
jurisdiction: other
adhesive: total-etch
light: {product: Light}
materials:
  - {role: composite, product: Paste, kind: universal, shades: [A2]}
anaesthetics:
  - {solution: articaine-epinephrine-100k, product: One, cartridge-ml: 1.7}
"""


def office(tmp_path, text):
    path = tmp_path / "office.yaml"
    path.write_text(text, "utf-8")
    return load_practice(path)


def test_two_solutions_of_one_drug_are_told_apart(tmp_path):
    both = OFFICE + "  - {solution: articaine-epinephrine-200k, product: Two, cartridge-ml: 1.7}\n"
    spoken = [each.spoken for each in office(tmp_path, both).anaesthetics]
    assert spoken == ["articaine one hundred thousand", "articaine two hundred thousand"]
    assert [each.spoken for each in office(tmp_path, OFFICE).anaesthetics] == ["articaine"]


@pytest.mark.parametrize(
    ("old", "new", "line", "what", "mend"),
    [
        ("epinephrine-100k", "epinephrine-90k", 8, "unknown solution", "did you mean"),
        ("cartridge-ml: 1.7", "cartridge-ml: 2.5", 8, "cartridge of 2.5 mL", "1.7, 1.8 or 2.2"),
        ("1.7}", "1.7, spoken: 'x{tooth}'}", 8, "cannot be spoken", "use plain words"),
        ("shades: [A2]", "shades: [A2 (light)]", 6, "not a shade name", "letters and digits"),
        ("cartridge-ml: 1.7", "cartridge-ml: much", 8, "", ""),
    ],
)
def test_what_cannot_be_is_told_with_its_line(tmp_path, old, new, line, what, mend):
    with pytest.raises(LoadError) as caught:
        office(tmp_path, OFFICE.replace(old, new))
    (fault,) = caught.value.faults
    assert fault.line == line
    assert what in fault.what
    assert mend in fault.mend


def test_the_same_solution_twice_is_a_fault(tmp_path):
    twice = OFFICE + OFFICE.splitlines(keepends=True)[-1]
    with pytest.raises(LoadError, match="is there twice"):
        office(tmp_path, twice)


def test_every_shipped_case_asks_for_few_values_at_a_time():
    """Weights apart, which only a case without one lets be said."""
    assert shipped().practices["example"].anaesthetics
    for step in plan_for().steps:
        count = sum(len(each.values) for each in plan_for().slots if each.id in step.asks)
        assert count <= 20, step.id
