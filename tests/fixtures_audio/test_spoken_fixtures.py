"""Every spoken fixture, through the real ears, at the moment of the visit in which it belongs.

A cue must lead where the procedure says; everything else must lead nowhere. Files that fail
today are listed in known_failures.yaml; one that begins to pass breaks the build until it is
taken off the list. The voices are synthesisers', in a quiet room: real ones are harder.
"""

from dataclasses import replace
from pathlib import Path

import pytest
import yaml
from fixture_session import FIXTURES, SPOKEN, hear, situation
from situations import machine_of, state_in

from sidecue.conductor.assembly import recogniser_of
from sidecue.hearing.files import read_sound
from sidecue.session.events import CueGiven
from sidecue.session.state import Mode, SessionState

KNOWN = yaml.safe_load((Path(__file__).parent / "known_failures.yaml").read_text()) or {}


def spoken(folder):
    """Return the manifest's entries below `folder`, known failures marked."""
    here = [entry for entry in SPOKEN if entry["file"].startswith(folder)]
    return [
        pytest.param(
            entry,
            id=entry["file"],
            marks=[pytest.mark.xfail(reason=KNOWN[entry["file"]], strict=True)]
            if entry["file"] in KNOWN
            else [],
        )
        for entry in here
    ]


@pytest.fixture(scope="module")
def recogniser():
    made = recogniser_of("auto", None)
    yield made
    made.close()


@pytest.mark.parametrize("entry", spoken("accept/"))
def test_a_cue_is_heard_and_leads_where_the_procedure_says(entry, recogniser):
    at = situation(entry)
    outcome = hear(read_sound(FIXTURES / entry["file"]), at, recogniser)
    assert (outcome.cues, outcome.refusals) == ([entry["must"]["cue"]], [])
    assert_leads_to(entry["must"]["to"], outcome.before, outcome.after)


def test_every_cue_of_the_set_leads_where_the_procedure_says_whoever_hears_it():
    for entry in (entry for entry in SPOKEN if "cue" in entry["must"]):
        at = situation(entry)
        before = state_in(at)
        after, _ = machine_of(at.visit).step(before, CueGiven(before.now, entry["must"]["cue"]))
        assert_leads_to(entry["must"]["to"], before, after)


@pytest.mark.parametrize("entry", spoken("reject/"))
def test_what_is_no_cue_of_this_moment_changes_nothing(entry, recogniser):
    outcome = hear(read_sound(FIXTURES / entry["file"]), situation(entry), recogniser)
    assert outcome.cues == []
    assert replace(outcome.after, now=outcome.before.now) == outcome.before


def assert_leads_to(to: str, before: SessionState, after: SessionState) -> None:
    """`to` names a step, a step's timed part, a mode, or what kind of change it is."""
    place = (after.step, after.under_way)
    if to in {mode.value for mode in Mode}:
        assert after.mode == to
    elif to == "question":
        assert after.question is not None
        assert place == (before.step, before.under_way)
    elif to == "undone":
        assert len(after.history) < len(before.history)
    elif to == "same":
        assert (*place, after.mode) == (before.step, before.under_way, before.mode)
        assert after.question is None
    elif to.endswith(" under-way"):
        assert place == (to.removesuffix(" under-way"), True)
    else:
        assert place == (to, False)
        assert after.question is None
