"""Cues of the shipped visits that may be said at the same moment do not sound alike."""

from dataclasses import replace

import pytest

from shipped_library import shipped
from sidecue.cli.sounding import sound_lines, sounds_of
from sidecue.procedure.loading import placed_case
from sidecue.procedure.nearness import LEAST_APART, Kind, Lint
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan


@pytest.fixture(scope="module")
def plans() -> dict[str, Plan]:
    library = shipped()
    office = library.practices["example"]
    made = {}
    for name, source in library.cases.items():
        case = placed_case(source, office.notation)
        made[name] = plan(library, choose_procedure(library, case, office), case, office)
    return made


@pytest.fixture(scope="module")
def found(plans: dict[str, Plan]) -> Lint:
    return sounds_of(list(plans.values()))


def test_no_two_cues_of_one_moment_sound_alike(found: Lint) -> None:
    assert found.pairs > 20_000
    assert [str(trap) for trap in found.traps] == []


def test_homophones_are_named(found: Lint) -> None:
    first, last = sound_lines(found)
    assert f"0 under {LEAST_APART}" in first
    assert "for/four" in last


def test_a_tooth_is_named_only_where_the_name_is_read_back(plans: dict[str, Plan]) -> None:
    """A number in a cue that acts at once could be taken for its neighbour's: it is a value, and
    the steps that rest on the tooth are read back (Lee, J Oral Maxillofac Surg 2007)."""
    digits = {"one", "two", "three", "four", "five", "six", "seven", "eight"}
    for made in plans.values():
        for step in made.steps:
            for cue in filter(None, (step.begin, step.done)):
                for phrase in cue.phrases:
                    assert sum(word in digits for word in phrase.split()) < 2, phrase


def test_a_cue_reworded_into_another_is_told_with_file_and_mend(plans: dict[str, Plan]) -> None:
    made = plans["composite-46-mo"]
    at = made.step_index["lubricate"]
    step = made.steps[at]
    done = replace(step.done, phrases=("jaws hold firmly now", *step.done.phrases))
    steps = (*made.steps[:at], replace(step, done=done), *made.steps[at + 1 :])
    traps = sounds_of([replace(made, steps=steps)]).traps
    assert [trap.kind for trap in traps] == [Kind.BEGINS]
    line = str(traps[0])
    assert line.startswith("rubber-dam-placement.yaml: ")
    assert "far enough" in line
