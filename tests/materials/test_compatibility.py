"""What must not meet in a mouth: for each clash a case that trips it, and one that does not.

Sources stand beside each; "common practice" where no source could be read. No patient of these
tests is real.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from shipped_library import shipped
from sidecue.procedure.library import Library
from sidecue.procedure.loading import case_from
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.practice import Material, Practice

COMPOSITE = {"tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam",
             "depth-mm": 3}  # fmt: skip
AMALGAM = {"tooth": "14", "surfaces": "DO", "material": "amalgam", "isolation": "dam",
           "date": "2024-05-02", "age-years": 40}  # fmt: skip
SEALANT = {"tooth": "36", "surfaces": "O", "material": "sealant", "isolation": "rolls"}
INTERIM = {"tooth": "37", "surfaces": "O", "material": "interim", "isolation": "rolls"}
IONOMER = {"tooth": "43", "surfaces": "B", "cervical": True, "material": "glass-ionomer",
           "isolation": "rolls"}  # fmt: skip
COVERED = {"liner": "calcium-hydroxide-covered", "remaining-dentine-mm": 0.4}
LIDOCAINE, PLAIN = "lidocaine-epinephrine-100k", "mepivacaine-plain"
NO_FLAGS: dict[str, Any] = {"flags": []}


@pytest.fixture(scope="module")
def library() -> Library:
    return shipped()


def office(library: Library, **kinds: str) -> Practice:
    """The example office with other kinds of products: `liner_base="zinc-oxide-eugenol"`."""
    practice = library.practices["example"]
    supply = kinds.pop("supply", None)
    wanted = {role.replace("_", "-"): kind for role, kind in kinds.items()}
    materials = [
        replace(each, kind=wanted.pop(each.role, each.kind)) for each in practice.materials
    ]
    materials = [
        replace(each, supply=supply) if supply and each.role == "amalgam" else each
        for each in materials
    ]
    materials += [Material(role, "Other", kind, {}, {}, "", {}) for role, kind in wanted.items()]
    return replace(practice, materials=tuple(materials))


def planned(library: Library, entry: Mapping[str, Any], practice: Practice) -> Plan:
    case = case_from(entry, "iso")
    return plan(library, choose_procedure(library, case, practice), case, practice)


# base case, what trips it, products that trip it, blocks?, words of the reason, of the source
CLASHES = [
    # oracle 16, J Esthet Restor Dent 2007: eugenol stops resin; varnish keeps it from the tooth
    (COMPOSITE, {"sealer": "varnish"}, {}, True, "varnish goes under amalgam only", "memory"),
    (COMPOSITE, COVERED, {"liner_base": "zinc-oxide-eugenol"}, True, "Eugenol stops resin",
     "J Esthet Restor Dent 2007"),
    # mixed evidence (Pinto 2014: 46.8 against 60.4 MPa; another: no loss), so a warning
    (COMPOSITE, {"replaces": "eugenol-temporary"}, {}, False, "clean the cavity well", "Pinto"),
    # CDC 2003 (from memory), oracle 14; articaine label; FDA 2020; common practice
    (COMPOSITE, {"flags": ["latex"]}, {}, False, "only non-latex sheet", "CDC"),
    (SEALANT, {"flags": ["latex"]}, {}, False, "only non-latex gloves", "CDC"),
    (INTERIM, {"flags": ["eugenol"]}, {}, True, "allergic to eugenol", "common practice"),
    (AMALGAM, {**COVERED, "flags": ["eugenol"]}, {"liner_base": "zinc-oxide-eugenol"}, True,
     "allergic to eugenol; use another base", "common practice"),
    (COMPOSITE, {"flags": ["resin"]}, {}, True, "allergic to resin", "common practice"),
    (AMALGAM, {"sealer": "resin-sealer", "flags": ["resin"]}, {}, True, "leave out the resin",
     "common practice"),
    (AMALGAM, {"liner": "glass-ionomer", "flags": ["resin"]}, {}, True, "base has resin",
     "common practice"),
    (IONOMER, {"flags": ["resin"]}, {"surface_coat": "self-drying"}, False, "coat without resin",
     "common practice"),
    (IONOMER, {"flags": ["resin"]}, {}, True, "light-cured coat is resin", "common practice"),
    # FDA: a known allergy to a component of amalgam, and nickel is none
    (AMALGAM, {"flags": ["metal"]}, {}, False, "ask which", "FDA"),
    (AMALGAM, {"replaces": "filling"}, {}, False, "If the old filling is amalgam", "waste"),
    (AMALGAM, {"liner": "glass-ionomer"}, {"liner_base": "zinc-phosphate"}, True,
     "sets by itself", "operative dentistry"),
    (COMPOSITE, {}, {"adhesive": "two-bottle"}, True, "no primer", "five adhesives"),
    (SEALANT, {"anaesthetic": LIDOCAINE}, {}, True, "hold no injection", "common practice"),
    (COMPOSITE, {"flags": ["metal"]}, {}, False, "Metal allergy", "common practice"),
    (COMPOSITE, {"anaesthetic": LIDOCAINE, "flags": ["sulfite"]}, {}, True,
     "use a plain solution", "articaine label"),
    (COMPOSITE, {"anaesthetic": "lidocaine", "flags": ["sulfite"]}, {}, False,
     "no solution with a vasoconstrictor", "articaine label"),
    (COMPOSITE, {"anaesthetic": "prilocaine", "flags": ["methaemoglobinaemia"]}, {}, True,
     "avoid prilocaine", "prilocaine label"),
    # sealant teaching module; common practice
    (SEALANT, {}, {"cleaning_paste": "oily"}, True, "use plain pumice", "sealant teaching"),
    (COMPOSITE, {}, {"cleaning_paste": "fluoride"}, True, "hinders etching", "sealant teaching"),
    # pumice without oil or fluoride before glass ionomer: teaching (from memory)
    (IONOMER, {}, {"cleaning_paste": "fluoride"}, False, "under the conditioner", "memory"),
    # moist dentine: etching notes, EB2; alcohol itself common practice
    (COMPOSITE, {}, {"drying_agent": "alcohol"}, True, "leave it moist", "common practice"),
    (AMALGAM, {}, {"drying_agent": "alcohol"}, False, "leave it sore", "common practice"),
    # petroleum softens latex: common practice
    (COMPOSITE, {}, {"dam_lubricant": "petroleum"}, True, "weakens a latex sheet", "common"),
    (COMPOSITE, {"flags": ["latex"]}, {"dam_lubricant": "petroleum"}, False, "spoils the bond",
     "common practice"),
    # ISO 24234:2015 scope; EU 2017/852 article 10
    (AMALGAM, {}, {"supply": "bulk"}, True, "never in bulk", "ISO 24234"),
    # conventional increments: at most 2 mm, oracle 24
    (COMPOSITE, {"flags": ["bleached"]}, {}, False, "", "from memory"),
    (COMPOSITE, {"flags": ["mouth-breather"]}, {}, True, "cannot breathe", "memory"),
    # Arandi 2017: calcium hydroxide only on the deepest spots, always covered
    (COMPOSITE, {"liner": "calcium-hydroxide"}, {}, False, "covered", "2017"),
    (COMPOSITE, {"liner": "calcium-hydroxide-covered", "remaining-dentine-mm": 1.5}, {}, False,
     "half a millimetre", "Arandi"),
    (COMPOSITE, {"isolation": "rolls"}, {}, False, "dam keeps the field drier", "sealant"),
]  # fmt: skip


@pytest.mark.parametrize(("base", "more", "kinds", "blocks", "words", "source"), CLASHES)
def test_a_clash_is_told_with_its_reason_and_source(
    library: Library,
    base: Mapping[str, Any],
    more: Mapping[str, Any],
    kinds: dict[str, str],
    blocks: bool,
    words: str,
    source: str,
) -> None:
    found = planned(library, {**base, **more}, office(library, **kinds))
    quiet = planned(library, base, office(library))
    notices = found.blocks if blocks else found.warnings
    new = [each for each in notices if each not in (*quiet.blocks, *quiet.warnings)]
    told = [each for each in new if words in each.text and source in each.source]
    assert told, (new, found.blocks, found.warnings)
    assert found.startable is not blocks
    assert quiet.startable


def test_layers_of_conventional_composite_over_two_millimetres_are_refused(
    library: Library,
) -> None:
    """Oracle 24 (LC5: 2 mm conventional, bulk fill to 4 mm)."""
    practice = library.practices["example"]
    thick = tuple(
        replace(each, numbers={**each.numbers, "increment-mm": 3.0})
        if each.product == "Brackenfil Universal"
        else each
        for each in practice.materials
    )
    found = planned(library, COMPOSITE, replace(practice, materials=thick))
    assert not found.startable
    assert any("2 mm" in block.source for block in found.blocks), found.blocks
    bulk = planned(library, {**COMPOSITE, "bulk-fill": True}, practice)
    assert bulk.startable


def test_a_plain_solution_may_be_used_in_sulfite_allergy(library: Library) -> None:
    """Articaine label: no vasoconstrictor solutions; a plain one has no sulfite."""
    entry = {**COMPOSITE, "anaesthetic": PLAIN, "flags": ["sulfite"]}
    assert planned(library, entry, office(library)).startable


def test_a_favourite_sheet_without_latex_bears_petroleum(library: Library) -> None:
    """Petroleum harms latex alone (common practice, no source)."""
    practice = replace(
        office(library, dam_lubricant="petroleum"), instead={"dam-sheet": "latex-free-sheet"}
    )
    assert planned(library, AMALGAM, practice).startable


def test_every_clash_of_the_file_is_tripped_by_some_case_here(library: Library) -> None:
    tripped: set[str] = set()
    for base, more, kinds, _, _, _ in CLASHES:
        for jurisdiction in ("other", "eu"):
            practice = replace(office(library, **kinds), jurisdiction=jurisdiction)
            found = planned(library, {**base, **more}, practice)
            tripped |= {each.text for each in (*found.blocks, *found.warnings)}
    extra = [
        {**COMPOSITE, "anaesthetic": LIDOCAINE, "flags": ["heart"]},
        {**AMALGAM, "flags": ["kidney"]},
        {**AMALGAM, "sealer": "resin-sealer", "replaces": "eugenol-temporary"},
    ]
    for entry in extra:
        found = planned(library, entry, office(library))
        tripped |= {each.text for each in (*found.blocks, *found.warnings)}
    assert {clash.say for clash in library.clashes} <= tripped
    assert all(clash.source for clash in library.clashes)


def test_no_protocol_is_spoken_of_only_where_a_liner_or_little_dentine_makes_it_matter(
    library: Library,
) -> None:
    """Aust Dent J 2011;56(S1):11: no single protocol is agreed."""

    def told(**more: Any) -> bool:
        found = planned(library, {**COMPOSITE, **more}, office(library))
        return any("no single protocol" in warning.text for warning in found.warnings)

    assert not told()
    assert not told(**{"remaining-dentine-mm": 2})
    assert told(**{"remaining-dentine-mm": 0.4, "liner": "none"})
    assert told(**{"remaining-dentine-mm": 1, "liner": "glass-ionomer"})
