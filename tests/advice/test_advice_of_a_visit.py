"""`sidecue advice` after a real visit: what was done counts, not what was planned."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipped_library import shipped
from sidecue.cli.main import run
from sidecue.procedure.loading import placed_case
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.record.advice import advice_of
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.record.telling import tell
from sidecue.session.advising import CALL
from sidecue.session.effects import Say
from sidecue.session.events import CueGiven, Event, Source, Started, TimePassed
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode

OPENED = "2026-03-31T09:00:00.000+02:00"


def visit(made: Plan, most: int = 2000) -> list[Event]:
    """The events of a visit straight through, each step done as soon as its time allows."""
    machine = SessionMachine(made)
    state = machine.first()
    events: list[Event] = []

    def take(event: Event) -> bool:
        nonlocal state
        before = (state.step, state.under_way, state.mode, state.question)
        try:
            after, _ = machine.step(state, event)
        except IllegalEvent:
            return False
        if isinstance(event, CueGiven) and before == (
            after.step, after.under_way, after.mode, after.question
        ):  # fmt: skip
            return False
        state = after
        events.append(event)
        return True

    take(Started(0.0))
    now = 0.0
    while state.mode is not Mode.FINISHED and len(events) < most:
        now += 5.0
        while (due := machine.next_deadline(state)) is not None and due <= now:
            take(TimePassed(max(due, state.now)))
        step = made.steps[made.step_index[state.step]]
        if state.question is not None:
            wanted = "confirm"
        elif step.begin is not None and not state.under_way:
            wanted = step.begin.id
        else:
            wanted = step.done.id
        take(CueGiven(now, wanted, Source.KEY))
        assert now < 20_000, f"stuck at {state.step}"
    return events


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "journal.sqlite3"


def made_for(name: str) -> Plan:
    library = shipped()
    office = library.practices["example"]
    case = placed_case(library.cases[name], "iso")
    return plan(library, choose_procedure(library, case, office), case, office)


def kept(store: Path, events: int | None) -> str:
    made = made_for("sealant-36-o")
    journal = SqliteJournal(store)
    try:
        session = journal.open_session(made, OPENED)
        for number, event in enumerate(visit(made)[:events]):
            journal.append(session, number, event)
        return session
    finally:
        journal.close()


def test_a_finished_visit_gives_its_advice(store: Path, capsys) -> None:
    session = kept(store, None)
    assert run(["advice", session, "--store", str(store)]) == 0
    out = capsys.readouterr().out
    assert "2026-03-31" in out
    assert "The sealant is hard now. You may eat at once." in out
    assert "dry for a short time from the cotton rolls" in " ".join(out.split())
    assert "numb for" not in out
    assert "Draft" not in out


def test_the_advice_is_there_when_its_step_hands_it_over_while_the_patient_is_seated(
    store: Path, capsys, tmp_path
) -> None:
    # Advice is given before the patient leaves: WHO checklist of 2009, sign-out (from memory).
    made = made_for("sealant-36-o")
    at = [event.cue for event in visit(made) if isinstance(event, CueGiven)]
    read_out = next(
        number for number, event in enumerate(visit(made), start=1)
        if isinstance(event, CueGiven) and event.cue == "read-out.done"
    )  # fmt: skip
    assert at.index("read-out.done") < at.index("advise.done") < at.index("dismiss.done")
    kept(tmp_path / "before.sqlite3", read_out - 1)
    assert run(["advice", "--store", str(tmp_path / "before.sqlite3")]) == 1
    kept(store, read_out)
    capsys.readouterr()
    page = tmp_path / "advice.html"
    assert run(["advice", "--store", str(store), "--html", str(page)]) == 0
    assert "The sealant is hard now." in capsys.readouterr().out
    assert "The sealant is hard now." in page.read_text("utf-8")


def test_an_unfinished_visit_gives_none(store: Path, capsys) -> None:
    kept(store, 12)
    assert run(["advice", "--store", str(store)]) == 1
    printed = capsys.readouterr()
    assert "not read out yet" in printed.err
    assert "sealant" not in printed.out


@pytest.mark.parametrize(
    ("case", "worn_off"),
    [
        ("composite-46-mo", "clamp was"),  # off before the read-out, and sore all the same
        ("glass-ionomer-43-b-cervical", "thread was"),
        ("sealant-36-o", "cotton rolls"),
    ],
)
def test_what_is_read_aloud_in_the_visit_is_what_is_printed_and_moves_nothing(
    case: str, worn_off: str
) -> None:
    made = made_for(case)
    machine = SessionMachine(made)
    state, told, asked = machine.first(), list[Event](), 0
    for event in visit(made):
        state, _ = machine.step(state, event)
        told.append(event)
        offered = any(cue.id == "advice" for cue in machine.cues_now(state))
        assert offered == ("read-out" in state.facts and state.live and state.question is None)
        if not offered:
            continue
        story = tell(made, told)
        assert story.advice_due
        asking = CueGiven(state.now, "advice", Source.VOICE)
        after, effects = machine.step(state, asking)
        told.append(asking)  # it is in the journal, and the visit goes on as if it were not
        asked += 1
        assert after == state
        aloud = " ".join(effect.text for effect in effects if isinstance(effect, Say))
        assert aloud == " ".join((*advice_of(story), CALL))
        assert worn_off in aloud
    assert asked > 4
    assert state.mode is Mode.FINISHED
    assert tell(made, told).final == state, "a replay comes to the same end"
