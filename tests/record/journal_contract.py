"""What every journal must do. Each adapter's test class inherits from `JournalContract`."""

from __future__ import annotations

import pytest
from random_events import taken
from small_visit import OPENED, small_plan, unfinishable

from sidecue.record.port import ConflictError, Journal, JournalError, UnreadableEventError
from sidecue.session.events import CueGiven, Event, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

VISIT: tuple[Event, ...] = (
    Started(0.0),
    CueGiven(1.5, "numb-done", phrase="tooth is numb", score=0.93),
    CueGiven(4.25, "etch-on"),
    TimePassed(16.25),
)


def fold(machine: SessionMachine, events: tuple[Event, ...]) -> SessionState:
    """Replay as resume does."""
    state = machine.first()
    for event in events:
        state, _ = machine.step(state, event)
    return state


class JournalContract:
    def make(self, tmp_path) -> Journal:  # type: ignore[no-untyped-def]
        raise NotImplementedError

    @pytest.fixture
    def journal(self, tmp_path):
        journal = self.make(tmp_path)
        yield journal
        journal.close()

    @pytest.fixture
    def session(self, journal):
        return journal.open_session(small_plan(), OPENED)

    def test_a_new_journal_lists_no_session(self, journal):
        assert journal.sessions() == ()

    def test_an_opened_session_keeps_its_plan_and_its_clock(self, journal, session):
        assert journal.plan(session) == small_plan()
        (info,) = journal.sessions()
        assert (info.id, info.opened, info.events, info.closed) == (session, OPENED, 0, False)
        assert (info.title, info.case_line) == ("A small filling", "46 O · composite · rolls")

    def test_events_come_back_in_order_and_equal(self, journal, session):
        for number, event in enumerate(VISIT):
            journal.append(session, number, event)
        assert tuple(journal.events(session)) == VISIT
        assert journal.sessions()[0].events == len(VISIT)

    def test_a_number_is_taken_once(self, journal, session):
        journal.append(session, 0, VISIT[0])
        with pytest.raises(ConflictError, match="event 0"):
            journal.append(session, 0, TimePassed(9.0))
        assert tuple(journal.events(session)) == VISIT[:1]

    def test_no_number_may_be_left_out(self, journal, session):
        with pytest.raises(JournalError, match="event 1 cannot follow 0"):
            journal.append(session, 1, VISIT[0])
        assert tuple(journal.events(session)) == ()

    def test_an_event_that_could_not_be_read_back_is_not_written(self, journal, session):
        with pytest.raises(UnreadableEventError):
            journal.append(session, 0, Started(float("nan")))
        assert tuple(journal.events(session)) == ()

    def test_a_finished_session_takes_no_more_events(self, journal, session):
        journal.append(session, 0, VISIT[0])
        journal.close_session(session)
        assert journal.sessions()[0].closed
        with pytest.raises(JournalError, match="finished"):
            journal.append(session, 1, VISIT[1])
        assert tuple(journal.events(session)) == VISIT[:1]

    def test_sessions_are_listed_newest_first_even_when_the_clock_was_set_back(self, journal):
        first = journal.open_session(small_plan(), "2026-03-02T09:30:00+01:00")
        second = journal.open_session(small_plan(), "2026-03-02T08:00:00+01:00")
        assert [info.id for info in journal.sessions()] == [second, first]

    def test_sessions_do_not_mix(self, journal, session):
        other = journal.open_session(unfinishable(small_plan()), OPENED)
        journal.append(session, 0, Started(0.0))
        journal.append(other, 0, Started(7.0))
        assert tuple(journal.events(session)) == (Started(0.0),)
        assert tuple(journal.events(other)) == (Started(7.0),)
        assert journal.plan(other) == unfinishable(small_plan())

    def test_the_seal_covers_every_event(self, journal, session):
        seals = {journal.seal(session)}
        for number, event in enumerate(VISIT):
            journal.append(session, number, event)
            seals.add(journal.seal(session))
        assert len(seals) == len(VISIT) + 1
        assert journal.seal(session).events == len(VISIT)

    @pytest.mark.parametrize(
        "call",
        [
            lambda journal: journal.plan("no-such"),
            lambda journal: journal.events("no-such"),
            lambda journal: journal.seal("no-such"),
            lambda journal: journal.claim("no-such"),
            lambda journal: journal.append("no-such", 0, Started(0.0)),
            lambda journal: journal.close_session("no-such"),
        ],
    )
    def test_an_unknown_session_is_named(self, journal, call):
        with pytest.raises(JournalError, match="no session 'no-such'"):
            call(journal)

    def test_claiming_ones_own_session_again_is_no_fault(self, journal, session):
        journal.claim(session)
        journal.claim(session)
        journal.append(session, 0, VISIT[0])

    def test_closing_twice_is_no_fault(self, journal, session):
        journal.close()
        journal.close()

    def test_a_session_resumes_in_the_state_it_was_left(self, journal, session):
        machine = SessionMachine(journal.plan(session))
        state = machine.first()
        for number, event in enumerate(VISIT):
            journal.append(session, number, event)
            state, _ = machine.step(state, event)
        again = SessionMachine(journal.plan(session))
        assert fold(again, tuple(journal.events(session))) == state
        assert state.under_way
        assert state.timers[0].warned


def replay_equals_the_visit(journal: Journal, events: list[Event]) -> None:
    """Run `events` with every accepted one journalled; replaying must lead to the same state."""
    session = journal.open_session(small_plan(), OPENED)
    state, accepted = taken(small_plan(), events)  # what is illegal never reaches the journal
    for number, event in enumerate(accepted):
        journal.append(session, number, event)
    stored = tuple(journal.events(session))
    assert fold(SessionMachine(journal.plan(session)), stored) == state
