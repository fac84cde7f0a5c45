"""What a plan refuses, warns of or asks, for the case and the practice it is given."""

from __future__ import annotations

from dataclasses import replace

import pytest
from example_office import AMALGAM, COMPOSITE, decided, office, planned, with_kind

from sidecue.procedure.case import CaseFault

COMMON = "common practice, no source"


@pytest.mark.parametrize(
    ("entry", "reason", "source"),
    [
        ({"tooth": "46", "surfaces": "MO", **COMPOSITE, "sealer": "varnish"}, "copal varnish",
         "oracle 16; J Esthet Restor Dent 2007"),
        ({"tooth": "37", "surfaces": "O", "material": "interim", "isolation": "rolls",
          "flags": ["eugenol"]}, "allergic to eugenol", COMMON),
        ({"tooth": "36", "surfaces": "O", "material": "sealant", "isolation": "rolls",
          "anaesthetic": "lidocaine"}, "hold no injection", COMMON),
        ({"tooth": "46", "surfaces": "MO", **COMPOSITE, "flags": ["resin"]},
         "allergic to resin", COMMON),
        ({"tooth": "46", "surfaces": "MO", **COMPOSITE, "flags": ["sulfite"],
          "anaesthetic": "lidocaine-epinephrine-100k"}, "allergic to sulfite", "articaine label"),
        ({"tooth": "46", "surfaces": "MO", **COMPOSITE, "flags": ["mouth-breather"]},
         "cannot breathe", "paediatric dam guidance (from memory)"),
        ({"tooth": "34", "surfaces": "B", **COMPOSITE, "cervical": True, "depth-mm": 7},
         "3 layers of 2.33 mm at the gum", "PMC5608064"),
        ({"tooth": "34", "surfaces": "B", **COMPOSITE, "cervical": True, "depth-mm": 5,
          "size": "ordinary"}, "2 layers of 2.5 mm at the gum", "PMC5608064"),
        ({"tooth": "46", "surfaces": "MO", **COMPOSITE, "remaining-dentine-mm": 0}, "pulp exposed",
         COMMON),
    ],
)  # fmt: skip
def test_what_must_not_be_is_refused_with_its_reason(
    entry: dict[str, object], reason: str, source: str
) -> None:
    made = planned(**entry)
    assert any(reason in block.text and block.source for block in made.blocks), source
    assert not made.startable


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        # FDA, 24 September 2020: a known allergy to a component; nickel is none of them.
        ({"tooth": "46", "surfaces": "O", **AMALGAM, "flags": ["metal"]}, "ask which"),
        ({"tooth": "46", "surfaces": "O", **AMALGAM, "replaces": "filling"}, "old filling"),
        ({"tooth": "46", "surfaces": "O", **COMPOSITE, "replaces": "filling"}, "scrap jar"),
        ({"tooth": "37", "surfaces": "O", "material": "glass-ionomer", "isolation": "rolls",
          "matrix": "none", "flags": ["resin"]}, "coat without resin"),
    ],
)  # fmt: skip
def test_what_is_to_be_watched_is_told_and_refuses_nothing(
    entry: dict[str, object], told: str
) -> None:
    made = planned(**entry)
    assert any(told in each.text for each in made.warnings)
    assert not any(told in each.text for each in made.blocks)


@pytest.mark.parametrize(
    ("role", "kind", "entry", "reason"),
    [
        # Operative dentistry teaching (from memory): these set by themselves, no light helps.
        ("liner-base", "zinc-phosphate", AMALGAM | {"liner": "glass-ionomer"}, "sets by itself"),
        ("liner-base", "glass-ionomer", COMPOSITE | {"liner": "glass-ionomer"}, "sets by itself"),
        # Instructions of five adhesives, as a review gives them: primer, air, then the bond.
        ("adhesive", "two-bottle", COMPOSITE, "no primer"),
    ],
)
def test_a_product_that_the_steps_are_not_written_for_is_refused(
    role: str, kind: str, entry: dict[str, object], reason: str
) -> None:
    made = planned(with_kind(role, kind), tooth="46", surfaces="O", **entry)
    assert any(reason in block.text for block in made.blocks)
    assert not any(
        reason in block.text for block in planned(tooth="46", surfaces="O", **entry).blocks
    )


def test_three_millimetre_layers_of_ordinary_composite_are_refused() -> None:
    # Oracle 24: mdentjournal 198068.
    materials = tuple(
        replace(each, numbers={**each.numbers, "increment-mm": 3})
        if (each.role, each.kind) == ("composite", "universal") else each
        for each in office().materials
    )  # fmt: skip
    made = planned(office(materials=materials), tooth="46", surfaces="MO", **COMPOSITE)
    assert any("3 mm increment" in block.text for block in made.blocks)


@pytest.mark.parametrize(
    ("tooth", "surfaces", "notation", "question"),
    [
        # Oracle 4: a number that is a tooth in both notations (derived); class V or a pit
        # (leonardo-dental.com, cavity classes).
        ("14", "MO", None, "tooth"), ("46", "B", "iso", "surfaces"), ("36", "L", "iso", "surfaces"),
    ],
)  # fmt: skip
def test_what_only_the_operator_knows_is_asked(
    tooth: str, surfaces: str, notation: str | None, question: str
) -> None:
    made = planned(notation=notation, tooth=tooth, surfaces=surfaces, **COMPOSITE)
    assert question in {each.id for each in made.questions}


@pytest.mark.parametrize(
    ("tooth", "surfaces", "key"),
    [
        # Oracles 5 to 7 (derived; procedure-code usage, from memory).
        ("19", "MO", "tooth"), ("56", "MO", "tooth"), ("86", "MO", "tooth"),
        ("11", "O", "surfaces"), ("36", "P", "surfaces"), ("46", "I", "surfaces"),
        ("31", "P", "surfaces"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_a_fault_with_its_mend(tooth: str, surfaces: str, key: str) -> None:
    with pytest.raises(CaseFault) as caught:
        planned(tooth=tooth, surfaces=surfaces, **COMPOSITE)
    assert caught.value.key == key
    assert caught.value.mend


@pytest.mark.parametrize(
    ("place", "day", "derogation", "startable", "text"),
    [
        # Regulation (EU) 2017/852, article 10, as amended by 2024/1849: oracles 28 and 29.
        ("eu", "2024-12-31", False, True, "permitted in capsules until end of 2024"),
        ("eu", "2025-01-01", False, False, "only if strictly necessary"),
        ("eu", "2026-06-30", True, True, "state derogation until 30 June 2026"),
        ("eu", "2026-07-01", True, False, "only if strictly necessary"),
        # Commission notice C/2024/4675; end date from memory.
        ("northern-ireland", "2034-12-31", False, True, "special arrangement"),
        ("northern-ireland", "2035-01-01", False, False, "after 31 December 2034"),
    ],
)  # fmt: skip
def test_the_law_of_the_place_and_the_day_is_printed_and_asked_about(
    place: str, day: str, derogation: bool, startable: bool, text: str
) -> None:
    practice = office(jurisdiction=place, amalgam_derogation=derogation)
    made = planned(practice, tooth="46", surfaces="O", **AMALGAM | {"date": day})
    assert text in decided(made)["law"]
    assert made.startable == startable


def test_a_polishing_visit_is_not_refused_for_what_only_placing_does() -> None:
    # No dam, no bond, no anaesthetic at polishing: common practice, no source.
    flags = ["mouth-breather", "asthma", "sulfite", "heart", "bleached", "resin", "latex"]
    made = planned(tooth="46", surfaces="MO", **COMPOSITE, visit="polishing", flags=flags,
                   anaesthetic="lidocaine-epinephrine-100k")  # fmt: skip
    assert made.blocks == ()
    assert [each.text for each in made.warnings] == [
        "Latex allergy; use only non-latex gloves and stoppers."
    ]


@pytest.mark.parametrize(
    ("solution", "told"),
    [
        # Articaine label: no vasoconstrictor solution with a sulfite allergy.
        ("lidocaine-epinephrine-100k",
         "This patient is allergic to sulfite; use a plain solution."),
        ("lidocaine", "Sulfite allergy; no solution with a vasoconstrictor."),
        ("mepivacaine-plain", None),
    ],
)  # fmt: skip
def test_a_sulfite_allergy_is_told_once(solution: str, told: str | None) -> None:
    made = planned(tooth="46", surfaces="MO", **COMPOSITE, anaesthetic=solution,
                   flags=["sulfite"])  # fmt: skip
    said = [each.text for each in (*made.blocks, *made.warnings) if "ulfite" in each.text]
    assert said == ([] if told is None else [told])


@pytest.mark.parametrize(
    ("drug", "age", "blocked", "warned"),
    [
        # Oracle 34: articaine not under 4 years (label, and the lower set); bupivacaine not
        # under 12 (label). An unknown age is asked for, never taken for an adult's.
        ("articaine-epinephrine-200k", 3, True, False),
        ("articaine-epinephrine-200k", 4, False, False),
        ("articaine", None, False, True),
        ("bupivacaine", 11, True, False),
        ("bupivacaine", 12, False, False),
        ("lidocaine", 3, False, False),
    ],
)
def test_a_drug_is_refused_for_a_patient_too_young_for_it(
    drug: str, age: int | None, blocked: bool, warned: bool
) -> None:
    made = planned(
        tooth="54", surfaces="MO", **COMPOSITE, **{"anaesthetic": drug, "age-years": age}
    )
    assert any("is not used under" in each.text for each in made.blocks) is blocked
    assert any("ask the age" in each.text for each in made.warnings) is warned
    assert made.startable is not blocked
