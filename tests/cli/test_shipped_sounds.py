"""Cues of the shipped visits that may be said at the same moment do not sound alike.

The pairs in known_alike.yaml do, and wait to be reworded; no pair may join them.
"""

from pathlib import Path

import pytest
import yaml

from sidecue.assets import data_folder
from sidecue.cli.sounding import sound_lines, sounds_of
from sidecue.procedure.loading import load_library, placed_case
from sidecue.procedure.nearness import Kind, Lint
from sidecue.procedure.planning import choose_procedure, plan

KNOWN = Path(__file__).with_name("known_alike.yaml")


@pytest.fixture(scope="module")
def found() -> Lint:
    library = load_library(data_folder("flows"))
    office = library.practices["example"]
    made = []
    for source in library.cases.values():
        case = placed_case(source, office.notation)
        made.append(plan(library, choose_procedure(library, case, office), case, office))
    return sounds_of(made)


def test_no_new_pair_sounds_alike(found: Lint) -> None:
    known = {frozenset(pair) for pair in yaml.safe_load(KNOWN.read_text("utf-8"))}
    pairs = [trap for trap in found.traps if trap.other is not None]
    fresh = [str(trap) for trap in pairs if {trap.one.text, trap.other.text} not in known]
    assert found.pairs > 20_000
    assert fresh == []


def test_no_phrase_is_too_short_and_none_is_how_another_begins(found: Lint) -> None:
    assert not [trap for trap in found.traps if trap.kind in (Kind.SHORT, Kind.SAME, Kind.BEGINS)]


def test_the_worst_are_told_and_all_on_request(found: Lint) -> None:
    few, every = list(sound_lines(found, every=False)), list(sound_lines(found, every=True))
    assert "all with --alike" in few[0]
    assert len(every) == len(found.traps) + 2
    assert few[-1].split() == every[-1].split()
    assert "for/four" in few[-1]
