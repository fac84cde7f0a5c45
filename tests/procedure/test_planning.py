"""A procedure, a case and a practice become a plan: asked, refused and told, never guessed."""

from __future__ import annotations

from pathlib import Path

import pytest
from small_library import FILES, case, changed, library

from sidecue.procedure.case import case_of
from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan, Tier
from sidecue.procedure.planning import PlanError, choose_procedure, plan

OFFICE = "practices/office.yaml"


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Library:
    return library(tmp_path_factory.mktemp("flows"))


def planned(loaded: Library, **entries: object) -> Plan:
    return plan(loaded, "filling", case(**entries), loaded.practices["office"])


def in_office(tmp_path: Path, passage: str, new: str, **entries: object) -> Plan:
    return planned(library(tmp_path, changed(OFFICE, passage, new)), **entries)


def test_includes_and_layers_stand_in_their_places(small: Library) -> None:
    found = planned(small)
    assert [step.id for step in found.steps] == [
        "shade", "etch", "rinse", "admire", "layer-1", "cure-1", "layer-2", "cure-2", "polish",
    ]  # fmt: skip
    assert found.startable
    assert found.steps[1].part == "bonding"


def test_the_case_decides_which_steps_are_in_the_plan(small: Library) -> None:
    assert "rinse" not in {step.id for step in planned(small, adhesive="self-etch").steps}


@pytest.mark.parametrize(("depth", "layers"), [(0.5, 1), (2, 1), (2.1, 2), (4, 2), (5.9, 3)])
def test_layers_by_depth_of_at_most_two_millimetres(
    small: Library, depth: float, layers: int
) -> None:
    # Increments of conventional composite: PMC5608064.
    ids = [step.id for step in planned(small, depth_mm=depth).steps]
    assert sum(name.startswith("layer-") for name in ids) == layers
    for number in range(1, layers + 1):
        assert ids.index(f"cure-{number}") == ids.index(f"layer-{number}") + 1


def test_an_unknown_depth_is_asked_for(small: Library) -> None:
    found = planned(small, depth_mm=None)
    assert [question.id for question in found.questions] == ["depth"]
    assert not found.startable


def test_words_in_braces_are_filled_in_prompts_and_cues(small: Library) -> None:
    by_id = {step.id: step for step in planned(small).steps}
    assert by_id["etch"].say == "Etch tooth four six."
    assert by_id["layer-2"].say == "Place layer two of two."
    assert by_id["layer-2"].done.phrases == ("layer two is in",)
    assert by_id["layer-2"].done.id == "layer-2.done"
    assert by_id["cure-1"].begin is not None
    assert by_id["cure-1"].begin.id == "cure-1.begin"
    assert by_id["cure-1"].begin.tier is Tier.ADVANCE


def test_timers_carry_the_products_times_in_seconds_and_name_them(small: Library) -> None:
    by_id = {step.id: step for step in planned(small).steps}
    (etching,) = by_id["etch"].timers
    assert (etching.least, etching.most) == (15, 30)
    assert "etchant.enamel of Tarn Etch" in etching.source
    (rinsing,) = by_id["rinse"].timers
    assert rinsing.no_less_than == "etching"


@pytest.mark.parametrize(
    ("irradiance", "instructions", "seconds"),
    [
        (600, 20, 27),  # 16 J/cm2 at 600 mW/cm2 is 26.7 s, rounded up: derived, 16 from scielo.br
        (1000, 20, 20),  # 16 s of light would do, the instructions ask for 20
        (800, 20, 20),  # 800 x 20 = 16.0 exactly
        (400, 20, 40),
    ],
)
def test_the_light_cures_for_the_dose_and_never_below_the_instructions(
    tmp_path: Path, irradiance: int, instructions: int, seconds: int
) -> None:
    files = changed(OFFICE, "irradiance: 600", f"irradiance: {irradiance}")
    files[OFFICE] = files[OFFICE].replace("cure: 20 s", f"cure: {instructions} s")
    cure = next(step for step in planned(library(tmp_path, files)).steps if step.id == "cure-1")
    assert cure.timers[0].least == seconds


@pytest.mark.parametrize(
    ("passage", "gap", "question"),
    [
        ("irradiance: 600", "irradiance: ~", "light:irradiance"),
        ("rinse: 15 s", "rinse: ~", "material-time:etchant.rinse"),
        ("cure: 20 s", "cure: ~", "material-time:composite.cure"),
        (", target-joules-per-cm2: 16", "", "material-number:composite.target-joules-per-cm2"),
        ("increment-mm: 2, ", "", "material-number:composite.increment-mm"),
    ],
)
def test_a_number_nobody_entered_is_asked_for_and_never_guessed(
    tmp_path: Path, passage: str, gap: str, question: str
) -> None:
    found = in_office(tmp_path, passage, gap)
    (asked,) = found.questions
    assert asked.id == question
    assert "office.yaml" in asked.mend
    assert not found.startable


def test_a_material_the_drawer_lacks_is_asked_for(tmp_path: Path) -> None:
    found = in_office(tmp_path, "{role: composite,", "{role: varnish,")
    assert found.questions[0].id == "material:composite"


def test_a_time_a_step_only_names_in_another_case_is_not_asked_for(tmp_path: Path) -> None:
    assert in_office(tmp_path, "rinse: 15 s", "rinse: ~", adhesive="self-etch").startable


def test_the_tray_is_in_order_of_first_use_and_knows_its_steps(small: Library) -> None:
    found = planned(small, isolation="rolls")
    assert [item.instrument for item in found.tray] == ["etch-syringe", "suction", "light"]
    assert found.tray_by_id["light"].steps == ("cure-1", "cure-2")
    assert "suction" not in planned(small).tray_by_id


def test_materials_are_listed_with_their_times(small: Library) -> None:
    by_role = {material.role: material for material in planned(small).materials}
    assert dict(by_role["composite"].times) == {"cure": 20}
    assert by_role["etchant"].product == "Tarn Etch"


def test_a_clash_refuses_or_warns_with_its_source(small: Library) -> None:
    refused = planned(small, flags=["resin"])
    assert [block.text for block in refused.blocks] == ["This patient is allergic to resin."]
    assert refused.blocks[0].source
    warned = planned(small, isolation="rolls")
    assert "A dam keeps the field drier." in [warning.text for warning in warned.warnings]
    assert warned.startable


def test_a_weak_light_is_warned_about_with_its_source(tmp_path: Path) -> None:
    # 400 mW/cm2 is a convention of practice, not an ISO limit (from memory).
    found = in_office(tmp_path, "irradiance: 600", "irradiance: 399")
    assert any("light is weak" in warning.text for warning in found.warnings)


@pytest.mark.parametrize(
    ("remaining", "liner", "asked"),
    [
        (0.5, None, True),
        (0.4, None, True),
        (0.6, None, False),
        (0.4, "none", False),
        (None, None, False),
    ],
)
def test_thin_dentine_without_a_word_on_liner_is_a_question_for_the_clinician(
    small: Library, remaining: float | None, liner: str | None, asked: bool
) -> None:
    # Calcium hydroxide only at 0.5 mm or less: Clin Cosmet Investig Dent 2017. No protocol is
    # agreed (Aust Dent J 2011;56(S1):11), so the tool asks and does not decide.
    found = planned(small, remaining_dentine_mm=remaining, liner=liner)
    assert ("liner" in {question.id for question in found.questions}) is asked


def test_an_exposed_pulp_stops_the_plan(small: Library) -> None:
    found = planned(small, remaining_dentine_mm=0)  # common practice, no source
    assert any("pulp exposed" in block.text for block in found.blocks)


def test_an_unclear_tooth_gives_a_plan_of_questions_only(small: Library) -> None:
    unclear = case_of(case(tooth="14").entry, None)
    found = plan(small, "filling", unclear, small.practices["office"])
    assert found.steps == ()
    assert [question.id for question in found.questions] == ["tooth"]
    assert not found.startable


def test_the_clinicians_wording_and_favourites_are_used(tmp_path: Path) -> None:
    found = in_office(
        tmp_path, "adhesive: total-etch",
        "adhesive: total-etch\nwording: {etch: Acid on now.}\ninstead: {light: spare-light}",
    )  # fmt: skip
    assert found.steps[1].say == "Acid on now."
    assert "spare-light" in found.tray_by_id
    assert "light" not in found.tray_by_id


def test_an_optional_step_may_be_left_out(tmp_path: Path) -> None:
    wish = "adhesive: total-etch\nleave-out: [admire]"
    found = in_office(tmp_path, "adhesive: total-etch", wish)
    assert "admire" not in {step.id for step in found.steps}
    assert found.startable


def test_an_optional_step_an_interlock_needs_is_kept_and_the_wish_refused_by_name(
    tmp_path: Path,
) -> None:
    part = FILES["parts/bonding.yaml"].replace(
        "cue: [frost is seen]", "cue: [frost is seen]\n    establishes: [frosted]"
    )
    rules = FILES["rules.yaml"].replace(
        "rules:\n", "  - {fact: frosted, text: frost seen}\nrules:\n"
    ) + (
        "  - {rule: frost-first, say: First show the frost., act: layer-placed,\n"
        "     needs: [frosted], source: invented}\n"
    )
    office = FILES[OFFICE] + "leave-out: [admire]\n"
    files = {**FILES, "parts/bonding.yaml": part, "rules.yaml": rules, OFFICE: office}
    found = planned(library(tmp_path, files))
    assert "admire" in {step.id for step in found.steps}
    (block,) = found.blocks
    assert block.text == (
        "leave-out: step 'admire' cannot be left out, step 'layer-{n}' breaks rule 'frost-first'"
    )


def test_advice_follows_the_material_and_the_age(small: Library) -> None:
    assert [advice.text for advice in planned(small).advice] == ["You may chew on it now."]
    child = planned(small, age_years=8).advice
    assert "Watch that your child does not bite the lip." in [advice.text for advice in child]
    assert child[0].after == ("cured",)


def test_the_visit_is_chosen_by_what_it_says_of_the_case(small: Library) -> None:
    office = small.practices["office"]
    assert choose_procedure(small, case(), office) == "filling"
    with pytest.raises(PlanError, match=r"no procedure fits 34 B · composite · dam"):
        choose_procedure(small, case(tooth="34", surfaces="B", cervical=True), office)
    with pytest.raises(PlanError, match="there is no procedure 'crown': use one of filling"):
        plan(small, "crown", case(), office)


def test_two_visits_that_fit_alike_are_not_chosen_between(tmp_path: Path) -> None:
    twin = FILES["procedures/filling.yaml"].replace("procedure: filling", "procedure: twin")
    loaded = library(tmp_path, {**FILES, "procedures/twin.yaml": twin})
    with pytest.raises(PlanError, match="fits filling and twin: name one"):
        choose_procedure(loaded, case(), loaded.practices["office"])


def test_of_two_visits_the_one_for_fewer_kinds_of_case_fits_better(tmp_path: Path) -> None:
    wide = FILES["procedures/filling.yaml"].replace("procedure: filling", "procedure: wide")
    wide = wide.replace("class: [I, II]", "class: [I, II, VI]")
    loaded = library(tmp_path, {**FILES, "procedures/wide.yaml": wide})
    assert choose_procedure(loaded, case(), loaded.practices["office"]) == "filling"


def test_a_part_used_twice_keeps_step_ids_unique(tmp_path: Path) -> None:
    part = (
        "procedure: look\ntitle: Look\nsteps:\n"
        "  - {step: look, say: Look., why: To see., cue: [seen it]}\n"
    )
    filling = FILES["procedures/filling.yaml"]
    filling = filling.replace("  - include: bonding\n", "  - include: look\n  - include: bonding\n")
    filling = filling.replace("  - step: polish\n", "  - include: look\n  - step: polish\n")
    files = {**FILES, "parts/look.yaml": part, "procedures/filling.yaml": filling}
    ids = [step.id for step in planned(library(tmp_path, files)).steps]
    assert {"look", "look-2"} <= set(ids)
    assert len(ids) == len(set(ids))


def test_planning_twice_gives_the_same_plan(small: Library) -> None:
    assert planned(small, isolation="rolls") == planned(small, isolation="rolls")


@pytest.mark.parametrize(
    ("passage", "new", "warned"),
    [
        # Enamel 15 to 30 s, rinse 15 s or more: etching notes, scribd 431071973.
        ("enamel: 15 s", "enamel: 5 s", "etchant enamel of 5 s, usual is 15 to 30 s"),
        ("rinse: 15 s", "rinse: 5 s", "etchant rinse of 5 s, usual is at least 15 s"),
    ],
)
def test_a_time_that_looks_unusual_is_warned_about_and_kept(
    tmp_path: Path, passage: str, new: str, warned: str
) -> None:
    found = in_office(tmp_path, passage, new)
    assert any(warned in warning.text for warning in found.warnings)
    assert found.startable


def test_times_of_two_products_in_the_wrong_order_refuse_the_plan(tmp_path: Path) -> None:
    files = changed("parts/bonding.yaml", "most: etchant.enamel-most", "most: composite.cure")
    office = files[OFFICE].replace("enamel: 15 s", "enamel: 25 s")
    found = planned(library(tmp_path, {**files, OFFICE: office}))
    assert "'least' is 25 s and 'most' is 20 s, so timer 'etching' could not be kept; " in (
        found.blocks[0].text
    )
    assert not found.startable
