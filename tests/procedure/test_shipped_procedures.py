"""Every shipped procedure, planned for many kinds of case: whole, short, spoken and sound."""

from __future__ import annotations

import re
from functools import cache
from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shipped_cases import (
    CHOICES,
    MATERIALS,
    SURFACES,
    TEETH,
    all_plans,
    polishing_plans,
    shipped_plans,
)

from shipped_library import shipped
from sidecue.procedure.case import CaseFault, case_of
from sidecue.procedure.case_facts import CASE_FACTS, case_facts
from sidecue.procedure.exchange import plan_from_json, plan_to_json
from sidecue.procedure.interlocks import matches, violations
from sidecue.procedure.loading import placed_case
from sidecue.procedure.plan import TimerKind
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.schema import CaseFile
from sidecue.procedure.variants import Space, axes
from sidecue.procedure.vocabulary import all_cues
from sidecue.procedure.walking import walk
from sidecue.procedure.words import MOST_WORDS, placeholders
from sidecue.session.prompts import Prompter

#: The plans are made once, by one worker.
pytestmark = pytest.mark.xdist_group("shipped-plans")


def test_every_shipped_visit_is_reached_by_some_case() -> None:
    assert {found.procedure for found in all_plans()} == set(shipped().visits)


def test_every_shipped_case_can_be_started_in_the_shipped_practice() -> None:
    library = shipped()
    office = library.practices["example"]
    for name, source in library.cases.items():
        case = placed_case(source, office.notation)
        found = plan(library, choose_procedure(library, case, office), case, office)
        assert found.startable, (name, found.blocks, found.questions)


def test_no_plan_is_unsound_by_its_own_interlocks() -> None:
    for found in all_plans():
        assert not [block for block in found.blocks if "unsound" in block.text]
        case, facts = dict(found.case_facts), frozenset[str]()
        for step in found.steps:
            assert facts.issuperset(step.needs), (found.case_line, step.id)
            for gained, lost in (
                (step.begin_establishes, step.begin_voids),
                (step.establishes, step.voids),
            ):
                assert violations(found.rules, facts, gained, case, lost) == ()
                facts = facts.difference(lost).union(gained)


def test_every_prompt_is_at_most_eight_words_and_wholly_filled_in() -> None:
    for found in all_plans():
        for text in (
            *(step.say for step in found.steps),
            *(each.say for each in found.happenings),
            *(each.say for each in found.cautions),
            *(rule.say for rule in found.rules),
            *(line for each in found.emergencies for line in each.says),
            *(timer.overdue_say for step in found.steps for timer in step.timers),
        ):
            assert len(text.split()) <= MOST_WORDS, text
            assert placeholders(text) == (), text


def test_what_a_prompt_tells_to_say_is_a_phrase_that_counts() -> None:
    """Whoever does as they are told must not be told that nobody is sure what was said."""
    made = shipped_plans()[0]
    phrases = {phrase for cue in made.cues for phrase in cue.phrases}
    told = {
        found[1]
        for text in dict(made.prompts).values()
        if (found := re.search(r"\bSay ([a-z ]+?)(?: when ready)?[.]$", text))
    }
    assert told == {"confirm that", "resume procedure"}
    assert told <= phrases


def test_what_is_handed_is_named_in_at_most_eight_words() -> None:
    for found in all_plans():
        prompter = Prompter(found)
        for step in found.steps:
            text = prompter.hand_over(step) or ""
            assert len(text.split()) <= MOST_WORDS, (found.case_line, step.id, text)


def test_every_phrase_is_plain_words() -> None:
    for found in all_plans():
        for where, cue in all_cues(found):
            for phrase in cue.phrases:
                assert re.fullmatch(r"[a-z']+( [a-z']+)*", phrase), (where, phrase)


def test_ids_are_unique_and_references_lead_somewhere() -> None:
    for found in all_plans():
        ids = [step.id for step in found.steps]
        cues = [cue.id for _, cue in all_cues(found)]
        assert len(set(ids)) == len(ids), found.case_line
        assert len(set(cues)) == len(cues), found.case_line
        assert {each.back_to for each in found.happenings} <= set(ids)
        for step in found.steps:
            assert set(step.hand) <= set(found.tray_by_id)
            assert set(step.cautions) <= set(found.caution_by_id)
            assert {*step.needs, *step.establishes, *step.voids} <= set(found.fact_by_id)


def test_a_startable_plan_has_every_time_it_needs() -> None:
    ends = {TimerKind.HARD_MAXIMUM: ("most",), TimerKind.HARD_MINIMUM: ("least",),
            TimerKind.WINDOW: ("least", "most"), TimerKind.COUNT_DOWN: ("most",)}  # fmt: skip
    startable = [found for found in all_plans() if found.startable]
    assert startable
    for found in startable:
        for step in found.steps:
            for timer in step.timers:
                for end in ends[timer.kind]:
                    assert (getattr(timer, end) or 0) > 0, (found.case_line, timer.name)
                assert timer.source, timer.name


def test_advice_follows_only_from_what_the_plan_does() -> None:
    for found in all_plans():
        gained = {f for s in found.steps for f in (*s.establishes, *s.begin_establishes)}
        assert found.advice
        for advice in found.advice:
            assert gained.issuperset(advice.after)
            assert advice.source


def test_plans_read_back_equal() -> None:
    for found in (*shipped_plans()[:40], *polishing_plans()[:5]):
        assert plan_from_json(plan_to_json(found)) == found


def test_an_unfinished_practice_gets_questions_and_no_guesses() -> None:
    library = shipped()
    asked = 0
    for name, office in library.practices.items():
        gaps = [m for m in office.materials if None in m.times.values()]
        if name == "example":
            assert gaps == []
        for source in library.cases.values():
            case = placed_case(source, office.notation)
            found = plan(library, choose_procedure(library, case, office), case, office)
            asked += len(found.questions)
            for step in found.steps:
                for timer in step.timers:
                    if timer.least is None and timer.most is None:
                        assert found.questions
    assert asked


@cache
def alternatives(material: str) -> tuple[frozenset[tuple[tuple[str, tuple[str, ...]], ...]], ...]:
    """Return the axes of a visit that depends on every case fact, each as a set of facts."""
    everything = {key: frozenset(values) for key, values in CASE_FACTS.items() if key != "flags"}
    return tuple(
        frozenset(tuple(sorted(alternative.items())) for alternative in axis)
        for axis in axes(material, everything)
    )


@settings(max_examples=300, deadline=None)
@given(
    tooth=st.sampled_from(TEETH),
    surfaces=st.sampled_from(SURFACES),
    material=st.sampled_from(MATERIALS),
    choices=st.fixed_dictionaries({key: st.sampled_from(v) for key, v in CHOICES.items()}),
)
def test_every_real_case_is_among_the_walked_variants(
    tooth: str, surfaces: str, material: str, choices: dict[str, object]
) -> None:
    entry = {"tooth": tooth, "surfaces": surfaces, "material": material, **choices}
    try:
        case = case_of(CaseFile.model_validate(entry), "iso")
    except CaseFault:
        return
    facts = case_facts(case, shipped().practices["example"])
    for axis in alternatives(material):
        keys = [key for key, _ in min(axis)]
        assert tuple((key, facts[key]) for key in keys) in axis


def test_sets_of_variants_tell_the_variants_of_every_value() -> None:
    one = ({"a": ("x",)}, {"a": ("y", "z")}, {"a": ()})
    two = ({"b": ("p",)}, {"b": ("q",)})
    space = Space([one, two])
    rows = list(product(one, two))
    assert space.size == len(rows)
    for match in ([("a", ["x"])], [("a", ["z", "x"]), ("b", ["q"])], [("b", ["none"])], []):
        told = space.matching(match)
        for number, (first, second) in enumerate(rows):
            assert bool(told >> number & 1) == matches(match, {**first, **second})
    assert space.example(space.having("a", "x"), space.all) == "a x"


def test_the_walk_of_every_visit_finds_nothing() -> None:
    library = shipped()
    for visit in library.visits:
        assert walk(library.procedures, visit, library.rules) == []
