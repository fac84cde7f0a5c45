"""The order of the trade, on the real plans of many cases.

Each pair names its source; "common practice, no source" where a textbook order could not be read.
Pairs are told by the facts that steps establish, so that a step may be renamed or split.
"""

from __future__ import annotations

import pytest
from example_office import planned, with_kind
from shipped_cases import chosen, polishing_plans, shipped_plans

from sidecue.procedure.plan import Plan, Step

COMMON = "common practice, no source"
AMALGAM_ORDER = "coconote.app transcript 7fd31740; Operative Dentistry 2013 p258; cram.com cards"
MATRIX_ORDER = "knowt.com matrix cards; weekenddentalassistant.com; brainscape.com lecture 6822942"
BOND_ORDER = "ACS Omega 2021, PMC8158842 table 4; etching notes, scribd 431071973"
DAM_ORDER = "allendodontics.blogspot.com 2011 (ligature); assisting texts (from memory)"
COMPOSITE_ORDER = "styleitaliano.org class II; scribd 98849783"

#: The plans are made once, by one worker.
pytestmark = pytest.mark.xdist_group("shipped-plans")


def gains(step: Step) -> tuple[str, ...]:
    return (*step.begin_establishes, *step.establishes)


def places(plan: Plan, fact: str) -> list[int]:
    return [number for number, step in enumerate(plan.steps) if fact in gains(step)]


ORDER = [
    # the visit, earlier fact, later fact, source
    ({}, "tooth-agreed", "injected", "Universal Protocol time-out: JOMS 2007;65:1793"),
    ({}, "tooth-agreed", "cavity-opened", "Universal Protocol time-out: JOMS 2007;65:1793"),
    ({}, "allergies-read", "tooth-agreed", "WHO checklist, sign in before time out (from memory)"),
    ({}, "injected", "anaesthetic-logged", COMMON),
    ({}, "needle-covered", "numb", "CDC 2003 (from memory)"),
    ({}, "field-isolated", "cavity-opened", COMMON),
    ({"isolation": "dam"}, "clamp-tied", "clamp-seated", DAM_ORDER),
    ({"isolation": "dam"}, "holes-punched", "clamp-seated", DAM_ORDER),
    ({"isolation": "dam"}, "clamp-seated", "dam-anchored", DAM_ORDER),
    ({"isolation": "dam"}, "septa-cut", "clamp-off", DAM_ORDER),
    ({"isolation": "dam"}, "clamp-off", "dam-off", DAM_ORDER),
    ({"isolation": "dam"}, "dam-off", "isolation-counted", "assisting texts (from memory)"),
    ({"material": "composite"}, "shade-recorded", "field-isolated", "Compendium May 2022"),
    ({"material": "glass-ionomer"}, "shade-recorded", "field-isolated", "Compendium May 2022"),
    ({"material": "composite", "class": "II"}, "bite-marked", "cavity-opened", COMMON),
    ({"material": "amalgam", "class": "II"}, "bite-marked", "cavity-opened", COMMON),
    ({}, "counts-agreed", "read-out", "WHO checklist 2009, sign out (from memory)"),
    ({}, "read-out", "dismissed", "WHO checklist 2009, sign out (from memory)"),
    ({}, "isolation-counted", "counts-agreed", "assisting texts (from memory)"),
    ({}, "dismissed", "lines-flushed", "tdaperks.com quoting CDC 2003"),
    ({}, "lines-flushed", "room-ready", "tdaperks.com quoting CDC 2003"),
    ({"liner": "calcium-hydroxide-covered"}, "hydroxide-placed", "base-placed",
     "Clin Cosmet Investig Dent 2017 (always covered)"),
    # class II amalgam
    ({"material": "amalgam"}, "amalgam-permitted", "capsule-activated",
     "Regulation (EU) 2017/852; US FDA 24 September 2020"),
    ({"material": "amalgam", "class": "II"}, "band-loaded", "band-seated", MATRIX_ORDER),
    ({"material": "amalgam", "class": "II"}, "band-seated", "wedge-seated", MATRIX_ORDER),
    ({"material": "amalgam", "class": "II"}, "wedge-seated", "capsule-activated", AMALGAM_ORDER),
    ({"material": "amalgam", "class": "II"}, "matrix-sealed", "capsule-activated", AMALGAM_ORDER),
    ({"material": "amalgam"}, "capsule-mixed", "carrier-loaded", AMALGAM_ORDER),
    ({"material": "amalgam", "class": "II"}, "box-condensed", "cavity-overfilled", AMALGAM_ORDER),
    ({"material": "amalgam"}, "cavity-overfilled", "amalgam-burnished", AMALGAM_ORDER),
    ({"material": "amalgam"}, "amalgam-burnished", "rough-carved", AMALGAM_ORDER),
    ({"material": "amalgam", "class": "II"}, "ridge-level", "retainer-off", AMALGAM_ORDER),
    ({"material": "amalgam", "class": "II"}, "rough-carved", "retainer-off", AMALGAM_ORDER),
    ({"matrix": "band"}, "retainer-off", "matrix-out", MATRIX_ORDER),
    ({"material": "amalgam", "class": "II"}, "cavity-overfilled", "wedge-out", COMMON),
    ({"material": "amalgam", "class": "II"}, "matrix-out", "carved", AMALGAM_ORDER),
    ({"material": "amalgam"}, "isolation-counted", "bite-accepted",
     "assisting texts (from memory)"),
    ({"material": "amalgam", "class": "II"}, "bite-accepted", "contact-accepted", AMALGAM_ORDER),
    ({"material": "amalgam", "sealer": "varnish"}, "varnish-painted", "capsule-activated",
     "assisting texts (from memory): varnish just before the amalgam"),
    # composite
    ({"material": "composite", "class": "II"}, "cavity-clean", "matrix-sealed", COMPOSITE_ORDER),
    ({"material": "composite", "class": "II"}, "matrix-sealed", "adhesive-rubbed", COMPOSITE_ORDER),
    ({"material": "composite", "adhesive": "total-etch"}, "enamel-etched", "dentine-etched",
     COMMON),
    ({"material": "composite", "adhesive": "total-etch"}, "dentine-etched", "etch-rinsed",
     BOND_ORDER),
    ({"material": "composite", "adhesive": "selective-etch"}, "enamel-etched", "etch-rinsed",
     "leeannbrady.com, selective etching"),
    ({"material": "composite", "adhesive": "total-etch"}, "etch-rinsed", "adhesive-rubbed",
     BOND_ORDER),
    ({"material": "composite"}, "surface-ready", "adhesive-rubbed", BOND_ORDER),
    ({"material": "composite"}, "adhesive-rubbed", "adhesive-thinned", BOND_ORDER),
    ({"material": "composite"}, "adhesive-thinned", "adhesive-cured", BOND_ORDER),
    ({"material": "composite"}, "adhesive-cured", "layer-placed", BOND_ORDER),
    ({"material": "composite", "class": "II"}, "layer-placed", "matrix-out", COMPOSITE_ORDER),
    ({"material": "composite", "class": "II"}, "matrix-out", "sides-cured",
     "2014 consensus, dentistry.uiowa.edu; positions from memory"),
    ({"material": "composite", "class": "II"}, "isolation-counted", "bite-accepted",
     "assisting texts (from memory)"),
    ({"material": "composite", "class": "II"}, "bite-accepted", "polished", COMMON),
    ({"matrix": "sectional"}, "wedge-seated", "ring-on", MATRIX_ORDER),
    ({"matrix": "sectional"}, "ring-off", "matrix-out", COMPOSITE_ORDER),
]  # fmt: skip


@pytest.mark.parametrize(("visit", "earlier", "later", "source"), ORDER)
def test_the_trades_order_holds_in_every_plan(
    visit: dict[str, str], earlier: str, later: str, source: str
) -> None:
    seen = 0
    for plan in chosen(shipped_plans(), **visit):
        first, then = places(plan, earlier), places(plan, later)
        if first and then:
            seen += 1
            assert first[0] < then[0], (plan.case_line, plan.procedure, source)
        if earlier == "shade-recorded":
            assert first, plan.case_line
    assert seen, f"no plan has {earlier} and {later}"


def composites() -> list[Plan]:
    return chosen(shipped_plans(), material="composite")


def test_every_layer_is_cured_before_the_next_one_and_before_the_matrix_goes() -> None:
    # PMC5608064 (layers of at most 2 mm, each cured).
    for plan in composites():
        soft = False
        layers = 0
        for step in plan.steps:
            if "layer-placed" in gains(step):
                assert not soft, (plan.case_line, step.id)
                soft, layers = True, layers + 1
            if "resin-cured" in gains(step):
                soft = False
            if {"matrix-out", "polished", "bite-accepted", "field-washed"} & set(gains(step)):
                assert not soft, (plan.case_line, step.id)
        assert layers
        assert not soft


def test_the_shield_goes_up_before_every_light_and_again_after_it() -> None:
    # Blue-light hazard review, scribd 607287117.
    lights = 0
    for plan in shipped_plans():
        shielded = False
        for step in plan.steps:
            if "shields-up" in step.establishes:
                shielded = True
            if step.begin is not None and "light-on" in step.begin_establishes:
                assert shielded, (plan.case_line, step.id)
                lights += 1
            if "shields-up" in (*step.voids, *step.begin_voids):
                shielded = False
    assert lights


def test_self_etching_never_rinses_and_never_etches_dentine() -> None:
    # ACS Omega 2021, PMC8158842: no separate rinse, the primer is never rinsed.
    plans = chosen(shipped_plans(), material="composite", adhesive="self-etch")
    assert plans
    for plan in plans:
        for fact in ("enamel-etched", "dentine-etched", "etch-rinsed"):
            assert places(plan, fact) == [], plan.case_line


def test_selective_etching_keeps_acid_off_dentine() -> None:
    # leeannbrady.com, selective etching.
    plans = chosen(shipped_plans(), material="composite", adhesive="selective-etch")
    assert plans
    for plan in plans:
        assert places(plan, "enamel-etched")
        assert places(plan, "dentine-etched") == []


def test_dentine_acid_has_a_hard_maximum_and_the_rinse_is_never_shorter_than_the_etch() -> None:
    # Dentine at most 15 s, rinse at least as long as the etch: etching notes, scribd 431071973.
    for plan in chosen(shipped_plans(), material="composite", adhesive="total-etch"):
        timers = {timer.name: timer for step in plan.steps for timer in step.timers}
        assert timers["dentine-etch"].kind.value == "hard-maximum"
        assert timers["dentine-etch"].most == 15
        assert timers["rinse"].kind.value == "hard-minimum"
        assert timers["rinse"].no_less_than == "enamel-etch"


@pytest.mark.parametrize(("alloy", "most"), [("admixed", 210), ("spherical", 180)])
def test_amalgam_is_packed_within_its_alloys_time(alloy: str, most: float) -> None:
    # 3:00 spherical, 3:30 admixed: dentistry.uiowa.edu, dental amalgam.
    for plan in chosen(shipped_plans(), material="amalgam", alloy=alloy):
        packing = [t for step in plan.steps for t in step.timers if t.name == "packing"]
        assert [timer.most for timer in packing] == [most]
        assert packing[0].kind.value == "hard-maximum"


def test_class_one_amalgam_has_no_band_wedge_ridge_or_overhang() -> None:
    # The class II sequence without its matrix steps: AMALGAM_ORDER.
    plans = chosen(shipped_plans(), material="amalgam", **{"class": "I"})
    assert plans
    for plan in plans:
        for fact in ("band-seated", "wedge-seated", "ridge-level", "retainer-off", "matrix-out"):
            assert places(plan, fact) == [], plan.case_line


def test_every_wedge_and_matrix_that_goes_in_comes_out() -> None:
    # Common practice, no source: the wedge is taken out after filling.
    for plan in shipped_plans():
        assert bool(places(plan, "wedge-seated")) == bool(places(plan, "wedge-out"))
        if places(plan, "matrix-sealed"):
            assert places(plan, "matrix-out")
        if places(plan, "clamp-seated"):
            assert places(plan, "clamp-off")


def test_copal_varnish_is_only_ever_painted_under_amalgam() -> None:
    # Assisting texts (from memory): varnish goes under amalgam only.
    for plan in shipped_plans():
        if places(plan, "varnish-painted"):
            assert dict(plan.case_facts)["material"] == ("amalgam",)
            assert not places(plan, "adhesive-rubbed")


def test_fresh_amalgam_and_fresh_glass_ionomer_are_not_polished() -> None:
    # Polish at least 24 h later: dentistry.uiowa.edu (24 h from memory).
    for material in ("amalgam", "glass-ionomer"):
        for plan in chosen(shipped_plans(), material=material):
            assert places(plan, "polished") == [], plan.case_line
            assert not any("polish" in step.say.lower() for step in plan.steps), plan.case_line


def test_a_polishing_visit_asks_the_day_goes_coarse_to_fine_and_places_nothing() -> None:
    # Polish at least 24 h later: dentistry.uiowa.edu (24 h from memory). Law and lots are about
    # what is placed: Regulation (EU) 2017/852, article 10.
    fresh = ("capsule-activated", "injected", "cavity-opened", "shade-recorded")
    materials = set()
    for plan in polishing_plans():
        case = dict(plan.case_facts)
        materials.update(case["material"])
        order = ["surface-finished", "isolation-counted", "bite-accepted", "polished"]
        # Composite and the resin kind are hard at once: nobody has to wait a day.
        if case["material"][0] in {"amalgam", "glass-ionomer"}:
            order.insert(0, "day-passed")
        else:
            assert not places(plan, "day-passed")
        found = [places(plan, fact)[0] for fact in order]
        assert found == sorted(found), plan.case_line
        assert not any(places(plan, fact) for fact in fresh), plan.case_line
        proximal = case["class"][0] in {"II", "III", "IV"}
        assert bool(places(plan, "contact-accepted")) == proximal
        assert {each.role for each in plan.materials} <= {"surface-coat"}  # which is renewed
        # A resin coat is renewed over what was ground: not in a patient allergic to resin.
        assert all("coat is resin" in block.text for block in plan.blocks)
    assert materials == {"amalgam", "glass-ionomer", "resin-glass-ionomer", "composite"}


def test_an_interim_glass_ionomer_is_opened_and_cleaned_with_hand_instruments_only() -> None:
    # Atraumatic restorative teaching (from memory); front teeth with strip and wedge: atraumatic
    # treatment manual, chapter 5 (dhin.nl).
    plans = [each for each in shipped_plans() if each.procedure == "interim-glass-ionomer"]
    assert {dict(each.case_facts)["class"][0] for each in plans} >= {"I", "II", "III"}
    for plan in plans:
        order = ["caries-removed", "conditioned", "conditioner-rinsed", "ionomer-placed",
                 "ionomer-pressed", "ionomer-set", "ionomer-coated", "isolation-counted",
                 "return-agreed"]  # fmt: skip
        if dict(plan.case_facts)["matrix"] != ("none",):
            order[1:1] = ["wedge-seated", "matrix-sealed"]
            order.insert(order.index("ionomer-coated"), "matrix-out")
        found = [places(plan, fact)[0] for fact in order]
        assert found == sorted(found), plan.case_line
        closing = places(plan, "dismissed")[0]
        used = {item for step in plan.steps[:closing] for item in step.hand}
        assert not used & {"high-speed-handpiece", "slow-handpiece", "round-bur", "fissure-bur"}
        assert {"hatchet", "spoon-excavator"} <= used
        assert ("clear-strip" in used) == (dict(plan.case_facts)["class"] == ("III",))


@pytest.mark.parametrize(
    "words", ["dry the dentine", "close hard", "bite hard", "close your lips", "rinse the primer"]
)
def test_no_prompt_says_what_must_never_be_said(words: str) -> None:
    # CDC 2003 (lips on the tube); etching notes (desiccation); amalgam cards (hard bite).
    for plan in shipped_plans():
        for step in plan.steps:
            assert words not in step.say.lower(), (plan.case_line, step.id)


def test_a_coat_that_light_hardens_is_cured_behind_shields_and_one_that_dries_is_not() -> None:
    # "Light if resin coat": the class V sequence (bauersmiles.com; instructions from memory). What
    # is coated again over carved spots gets its light too: common practice, no source.
    gum = {"tooth": "43", "surfaces": "B", "cervical": True, "depth-mm": 1.5}
    pit = {"tooth": "75", "surfaces": "O", "depth-mm": 2, "age-years": 7}
    for entry, cures in ((gum, ["coat-cure"]), (pit, ["coat-cure", "second-coat-cure"])):
        case = {**entry, "material": "glass-ionomer", "isolation": "rolls"}
        lit = [
            (timer.name, timer.least)
            for step in planned(**case).steps
            for timer in step.timers
            if "light-on" in step.begin_establishes
        ]
        assert lit == [(name, 20) for name in cures]
        dries = planned(with_kind("surface-coat", "self-drying"), **case)
        assert not places(dries, "light-on")
