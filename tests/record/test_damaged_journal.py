"""A journal that somebody or something changed: named, with a mend in one line, and left alone."""

import pytest
from damaging import change, one_line
from journal_contract import VISIT
from small_visit import OPENED, small_plan

from sidecue.record.port import JournalError, TamperedError, UnreadableEventError
from sidecue.record.sqlite_journal import SCHEMA_VERSION, SqliteJournal
from sidecue.session.events import Started, TimePassed

# -- tampering -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("statement", "number", "says"),
    [
        (
            "UPDATE events SET body = replace(body, 'etch-on', 'numb-done')",
            2,
            "event 2 was changed",
        ),
        ("UPDATE events SET hash = 'f' WHERE number = 1", 1, "event 1 was changed"),
        ("UPDATE events SET body = x'00' WHERE number = 1", 1, "event 1 is no text"),
        ("DELETE FROM events WHERE number = 0", 0, "event 0 is missing"),
        ("DELETE FROM events WHERE number = 2", 2, "event 2 is missing"),
        ("DELETE FROM events WHERE number = 3", 3, "event 3 is missing"),
        ("DELETE FROM events", 0, "event 0 is missing"),
        ("UPDATE sessions SET opened = '2020-01-01T00:00:00+00:00'", 0, "event 0 was changed"),
        ("UPDATE sessions SET events = 3", 3, "event 3 was added"),
        ("UPDATE sessions SET last_hash = 'f'", 3, "event 3 does not match"),
    ],
)
def test_tampering_is_named(journal, session, statement, number, says):
    change(journal._path, statement)
    with pytest.raises(TamperedError, match=says) as caught:
        journal.events(session)
    assert (caught.value.session, caught.value.number) == (session, number)
    assert "backup" in str(caught.value)


def test_two_events_changed_over_are_named(path, journal, session):
    change(path, "UPDATE events SET number = 99 WHERE number = 1")
    change(path, "UPDATE events SET number = 1 WHERE number = 2")
    change(path, "UPDATE events SET number = 2 WHERE number = 99")
    with pytest.raises(TamperedError, match="event 1 was changed"):
        journal.events(session)


def test_an_event_moved_to_another_session_is_named(path, journal, session):
    other = journal.open_session(small_plan(), OPENED)
    journal.append(other, 0, Started(0.0))
    change(path, "DELETE FROM events WHERE session = ?", other)
    change(path, "UPDATE events SET session = ? WHERE session = ? AND number = 0", other, session)
    with pytest.raises(TamperedError, match="event 0 was changed"):
        journal.events(other)


def test_a_changed_plan_is_named(path, journal, session):
    change(path, "UPDATE sessions SET plan = replace(plan, 'Etch the enamel', 'Etch nothing')")
    with pytest.raises(TamperedError, match="its plan was changed"):
        journal.plan(session)


def test_an_event_of_a_newer_version_is_refused_and_named(path, journal, monkeypatch):
    session = journal.open_session(small_plan(), OPENED)
    newer = '{"type":"started","at":0.0,"chair":2}'
    monkeypatch.setattr("sidecue.record.sqlite_journal.event_to_json", lambda _: newer)
    journal.append(session, 0, Started(0.0))
    with pytest.raises(UnreadableEventError, match=f"{session}.*'chair'.*newer"):
        journal.events(session)


# -- a place or a file that is none of ours -------------------------------------------------------


@pytest.mark.parametrize("folder", ["a-file/below", "/proc/no-such"])
def test_a_folder_that_cannot_be_written_gets_one_line(tmp_path, folder):
    (tmp_path / "a-file").write_text("no folder")
    journal = SqliteJournal(tmp_path / folder / "journal.sqlite3")
    with pytest.raises(JournalError, match="choose a folder you may write to") as error:
        journal.open_session(small_plan(), OPENED)
    one_line(error)


def test_a_folder_in_place_of_the_file_gets_one_line(tmp_path):
    journal = SqliteJournal(tmp_path)
    with pytest.raises(JournalError, match="choose a folder you may write to") as error:
        journal.sessions()
    one_line(error)


def test_a_file_that_is_no_database_is_left_alone(path, journal):
    path.write_text("shopping list: gloves, masks, cotton rolls\n" * 40)
    before = path.read_bytes()
    with pytest.raises(JournalError, match="it is not a journal; move that file") as error:
        journal.sessions()
    one_line(error)
    assert path.read_bytes() == before


def test_another_programs_database_is_left_alone(path, journal):
    change(path, "CREATE TABLE patients (name TEXT)")
    before = path.read_bytes()
    with pytest.raises(JournalError, match="another program's database") as error:
        journal.open_session(small_plan(), OPENED)
    one_line(error)
    assert path.read_bytes() == before


def test_a_journal_of_a_newer_version_is_left_alone(path, journal, session):
    journal.close()
    change(path, "UPDATE schema_version SET version = ?", SCHEMA_VERSION + 1)
    with pytest.raises(JournalError, match="update sidecue") as error:
        SqliteJournal(path).sessions()
    one_line(error)


def test_a_damaged_file_is_called_damaged(path, journal, session):
    for number in range(len(VISIT), 200):
        journal.append(session, number, TimePassed(float(number)))
    journal.close()
    content = bytearray(path.read_bytes())
    content[4096:] = b"\xa5" * (len(content) - 4096)
    path.write_bytes(content)
    with pytest.raises(JournalError, match=r"damaged; move it away") as error:
        SqliteJournal(path).events(session)
    one_line(error)


def test_an_empty_file_becomes_a_journal(path, journal):
    path.touch()
    assert journal.sessions() == ()
    journal.open_session(small_plan(), OPENED)
