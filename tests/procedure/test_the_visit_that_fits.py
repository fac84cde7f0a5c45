"""A visit that was named is held to what it is for, like one that was chosen."""

from __future__ import annotations

from datetime import date

import pytest
from example_office import office

from shipped_library import shipped
from sidecue.procedure.case import case_of
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.schema import CaseFile

DAY = date(2026, 3, 31)
GUM = {"tooth": "43", "surfaces": "F", "cervical": True, "isolation": "rolls", "depth-mm": 1.5}


def named(procedure: str | None, **entry: object) -> Plan:
    case = case_of(CaseFile.model_validate(entry), "iso")
    chosen = procedure or choose_procedure(shipped(), case, office())
    return plan(shipped(), chosen, case, office(), DAY)


@pytest.mark.parametrize("material", ["composite", "glass-ionomer", "interim"])
def test_no_name_leads_another_material_past_the_law_on_amalgam(material: str) -> None:
    # Regulation (EU) 2017/852, article 10: a child under fifteen. The law is asked of the case's
    # material, so that a composite under the amalgam's name would never be asked about.
    made = named("amalgam-class-1", tooth="46", surfaces="O", isolation="dam", material=material,
                 **{"age-years": 9, "depth-mm": 2})  # fmt: skip
    assert not made.startable
    assert f"Class I amalgam is for material amalgam, not {material}: name another visit" in [
        each.text for each in made.blocks
    ]


def test_no_name_fills_another_class_or_polishes_a_new_filling() -> None:
    entry = {"tooth": "46", "surfaces": "MO", "isolation": "dam", "material": "composite",
             "depth-mm": 4}  # fmt: skip
    texts = [each.text for each in named("composite-class-1", **entry).blocks]
    assert texts == ["Class I resin composite is for class I, not II: name another visit"]
    texts = [each.text for each in named("polishing", **entry).blocks]
    assert (
        "Polishing at a later visit is for visit polishing, not placing: name another visit"
        in texts
    )


def test_at_the_gum_the_lasting_glass_ionomer_is_chosen_and_the_interim_one_may_be_named() -> None:
    # Hand instruments alone, one-surface cavities: atraumatic treatment manual (dhin.nl).
    lasting = named(None, **GUM, material="glass-ionomer")
    assert lasting.procedure == "glass-ionomer-class-5"
    freehand = {**GUM, "material": "glass-ionomer", "matrix": "none"}
    assert named(None, **freehand).procedure == "glass-ionomer-class-5"
    interim = named("interim-glass-ionomer", **freehand)
    assert interim.startable
    assert "Agree the return date for final filling." in [step.say for step in interim.steps]
    with_matrix = named("interim-glass-ionomer", **GUM, material="glass-ionomer")
    assert [each.text for each in with_matrix.blocks] == [
        "Interim (atraumatic) filling, glass ionomer is for matrix none, band or clear-strip, not "
        "cervical: enter one of them in the case, or name another visit"
    ]


@pytest.mark.parametrize("material", ["glass-ionomer", "resin-glass-ionomer"])
@pytest.mark.parametrize("matrix", ["cervical", "none"])
def test_a_matrix_at_the_gum_is_spoken_of_only_where_there_is_one(
    material: str, matrix: str
) -> None:
    # None or a cervical matrix for class V: dental teaching cards on matrices (knowt.com), memory.
    made = named(None, **GUM, material=material, matrix=matrix)
    assert made.startable
    said = " ".join(step.say for step in made.steps)
    handed = {item for step in made.steps for item in step.hand}
    assert ("matrix" in said) == ("cervical-matrix" in handed) == (matrix == "cervical")


def test_pumice_is_rubbed_before_the_liner_goes_in() -> None:
    # Rows G3 and G4: clean, then a liner in the deepest spot (bauersmiles.com and from memory).
    made = named(None, **GUM, material="glass-ionomer", liner="calcium-hydroxide-covered",
                 **{"remaining-dentine-mm": 0.4})  # fmt: skip
    steps = [step.id for step in made.steps]
    assert steps.index("clean-surface") < steps.index("place-hydroxide") < steps.index("condition")
