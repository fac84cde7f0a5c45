"""The shipped procedures, run straight through: their records must be whole."""

import pytest
from fhir.resources.R4B.bundle import Bundle

from shipped_library import shipped
from sidecue.assets import data_folder
from sidecue.procedure.loading import load_case, load_practice
from sidecue.procedure.plan import TimerKind
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.record.advice import advice_of
from sidecue.record.fhir import fhir_bundle
from sidecue.record.memory_journal import MemoryJournal
from sidecue.record.note import chart_note
from sidecue.record.story import Outcome
from sidecue.record.summary import summarise
from sidecue.record.telling import tell
from sidecue.record.timeline_csv import timeline_csv
from sidecue.session.events import CueGiven, Event, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode

OPENED = "2026-03-02T09:30:00+01:00"


def ideal_run(machine):
    """Every cue in its time: a held-back step is tried again each second until it may end."""
    state = machine.first()
    event: Event = Started(0.0)
    while True:
        state, _ = machine.step(state, event)
        yield event
        if state.mode is Mode.FINISHED:
            return
        assert state.now < 7200.0, f"no way on from {state.step}"
        step = machine.plan.steps[machine.plan.step_index[state.step]]
        if state.question is not None:
            event = CueGiven(state.now + 1.0, "confirm")
            continue
        begins = step.begin is not None and not state.under_way
        cue = CueGiven(state.now + 1.0, step.begin.id if begins else step.done.id)
        after, _ = machine.step(state, cue)
        moved = (after.step, after.under_way, after.mode, after.question)
        stayed = (state.step, state.under_way, state.mode, state.question)
        event = cue if moved != stayed else TimePassed(state.now + 1.0)


@pytest.fixture(scope="module", params=["composite-46-mo", "amalgam-14-do"])
def visit(request):
    flows = data_folder("flows")
    library = shipped()
    practice = load_practice(flows / "practices" / "example.yaml")
    case = load_case(flows / "cases" / f"{request.param}.yaml", practice.notation)
    made = plan(library, choose_procedure(library, case, practice), case, practice)
    journal = MemoryJournal()
    session = journal.open_session(made, OPENED)
    for number, event in enumerate(ideal_run(SessionMachine(made))):
        journal.append(session, number, event)
    return request.param, tell(journal.plan(session), journal.events(session)), journal, session


def test_every_step_is_done_and_every_timer_kept(visit):
    _, story, _, _ = visit
    assert story.finished
    assert {step.outcome for step in story.steps} == {Outcome.DONE}
    figures = summarise(story)
    assert figures.timers_not_kept == figures.left_out == figures.refused_by_rule == 0
    specs = [spec for step in story.plan.steps for spec in step.timers]
    limited = [spec for spec in specs if spec.kind is not TimerKind.COUNT_DOWN]
    assert figures.timers_kept == len(limited) > 0


def test_the_note_the_timeline_and_the_bundle_are_whole(visit):
    _, story, journal, session = visit
    text = chart_note(story, OPENED, session, journal.seal(session))
    assert all(step.step.say in text.replace("\\", "") for step in story.steps)
    assert "NOT FINISHED" not in text
    assert timeline_csv(story, OPENED).count("step done") == len(story.steps)
    Bundle.model_validate_json(fhir_bundle(story, OPENED, session, journal.seal(session)))


def test_the_advice_is_that_of_the_filling_and_the_anaesthetic(visit):
    # Chewing on amalgam only after hours, on composite at once, numb lips guarded: common
    # practice, no source.
    case, story, _, _ = visit
    advice = " ".join(advice_of(story))
    assert "numb" in advice
    chewing_waits = "Do not chew hard food on the new filling" in advice
    assert chewing_waits == case.startswith("amalgam")
    assert ("hard now" in advice) == case.startswith("composite")
