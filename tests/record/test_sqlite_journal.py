import os
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from hypothesis import given, settings
from journal_contract import VISIT, JournalContract, replay_equals_the_visit
from random_events import event_lists
from small_visit import OPENED, small_plan

from sidecue.record.port import BusyError, JournalError, TamperedError, UnreadableEventError
from sidecue.record.sqlite_journal import SCHEMA_VERSION, SqliteJournal
from sidecue.session.events import Started, TimePassed


class TestSqliteJournal(JournalContract):
    def make(self, tmp_path):
        return SqliteJournal(tmp_path / "store" / "journal.sqlite3")


@settings(max_examples=30, deadline=None)
@given(event_lists())
def test_replaying_the_sqlite_journal_equals_the_visit_itself(tmp_path_factory, events):
    journal = SqliteJournal(tmp_path_factory.mktemp("visit") / "journal.sqlite3")
    replay_equals_the_visit(journal, events)
    journal.close()


@pytest.fixture
def path(tmp_path):
    return tmp_path / "journal.sqlite3"


@pytest.fixture
def journal(path):
    journal = SqliteJournal(path, patience=0.05)
    yield journal
    journal.close()


@pytest.fixture
def session(journal):
    session = journal.open_session(small_plan(), OPENED)
    for number, event in enumerate(VISIT):
        journal.append(session, number, event)
    return session


def change(path, statement, *values):
    with sqlite3.connect(path) as database:
        database.execute(statement, values)
    database.close()


# -- on disk -------------------------------------------------------------------------------------


def test_listing_makes_no_file(path, journal):
    assert journal.sessions() == ()
    assert not path.exists()


def test_commits_are_flushed_to_the_medium(journal, session):
    # SQLite's manual, "PRAGMA synchronous": FULL (2) syncs the write-ahead log at every commit.
    database = journal._database
    assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert database.execute("PRAGMA synchronous").fetchone() == (2,)


def test_another_journal_sees_an_event_as_soon_as_append_returns(path, journal, session):
    journal.append(session, len(VISIT), TimePassed(30.0))
    other = SqliteJournal(path)
    assert other.events(session)[-1] == TimePassed(30.0)
    assert other.seal(session) == journal.seal(session)
    other.close()


def test_reading_while_another_process_appends_is_never_taken_for_tampering(path, journal, session):
    stop, faults = threading.Event(), []

    def read() -> None:
        reader = SqliteJournal(path)
        while not stop.is_set():
            try:
                reader.events(session)
            except JournalError as error:
                faults.append(error)
        reader.close()

    thread = threading.Thread(target=read)
    thread.start()
    for number in range(len(VISIT), 150):
        journal.append(session, number, TimePassed(float(number)))
    stop.set()
    thread.join()
    assert not faults


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


# -- one process runs one session ----------------------------------------------------------------

_CLAIM = """
import sys
from pathlib import Path
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.record.port import JournalError
journal = SqliteJournal(Path(sys.argv[1]))
try:
    journal.claim(sys.argv[2])
    print("claimed", flush=True)
except JournalError as error:
    print(type(error).__name__, error, flush=True)
sys.stdin.read()
"""


def claimant(path, session):
    return subprocess.Popen(
        [sys.executable, "-c", _CLAIM, str(path), session],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


def test_a_second_process_is_refused_and_told_who_runs_the_session(path, journal, session):
    with claimant(path, session) as other:
        said = other.stdout.readline()
        other.stdin.close()
    assert said.startswith("BusyError")
    assert f"process {os.getpid()}" in said


def test_a_second_journal_in_the_same_process_is_refused_too(path, journal, session):
    other = SqliteJournal(path)
    with pytest.raises(BusyError):
        other.append(session, len(VISIT), TimePassed(99.0))
    other.close()
    journal.append(session, len(VISIT), TimePassed(99.0))  # still ours


def test_another_session_of_the_same_store_is_free(path, journal, session):
    other = SqliteJournal(path)
    second = other.open_session(small_plan(), OPENED)
    other.append(second, 0, Started(0.0))
    other.close()


def test_a_session_whose_process_was_killed_is_free_at_once(path, journal, session):
    journal.close()
    with claimant(path, session) as other:
        assert other.stdout.readline() == "claimed\n"
        with pytest.raises(BusyError, match=f"process {other.pid}"):
            journal.claim(session)
        other.kill()
        other.wait()
        journal.claim(session)
        other.stdin.close()


def test_a_forked_helper_that_outlives_the_process_holds_nothing(path, journal, session):
    # A recogniser in a child process must not keep the chair from resuming.
    journal.close()
    script = (
        "import os, signal, sys, time\n"
        "from pathlib import Path\n"
        "from sidecue.record.sqlite_journal import SqliteJournal\n"
        "journal = SqliteJournal(Path(sys.argv[1]))\n"
        "journal.claim(sys.argv[2])\n"
        "child = os.fork()\n"
        "if child == 0:\n"
        "    time.sleep(30)\n"
        "    os._exit(0)\n"
        "print(child, flush=True)\n"
        "os.kill(os.getpid(), signal.SIGKILL)\n"
    )
    done = subprocess.Popen(
        [sys.executable, "-c", script, str(path), session], stdout=subprocess.PIPE, text=True
    )
    child = int(done.stdout.readline())
    done.wait()
    try:
        journal.claim(session)
    finally:
        os.kill(child, 9)
        done.stdout.close()


def test_no_lock_file_is_left_behind(path, journal, session):
    journal.close_session(session)
    journal.close()
    assert [each.name for each in path.parent.iterdir()] == [path.name]


def test_a_session_that_could_not_be_opened_is_not_held(path, journal, monkeypatch):
    journal.check()
    database = sqlite3.connect(path, isolation_level=None)
    database.execute("BEGIN IMMEDIATE")
    with pytest.raises(JournalError, match="another program holds it"):
        journal.open_session(small_plan(), OPENED)
    database.execute("ROLLBACK")
    database.close()
    assert not list(path.parent.glob("*.lock"))


# -- faults get one line with a mend -------------------------------------------------------------


def one_line(error):
    text = str(error.value)
    assert "\n" not in text
    assert "journal" in text
    return text


def fill(journal, session, first):
    """Append without end; each event that was confirmed must be there afterwards."""
    for number in range(first, 5000):
        try:
            journal.append(session, number, TimePassed(float(number)))
        except JournalError:
            assert journal.events(session)[first:] == tuple(
                TimePassed(float(confirmed)) for confirmed in range(first, number)
            )
            raise


def test_a_locked_journal_loses_nothing(path, journal, session):
    database = sqlite3.connect(path, isolation_level=None)
    database.execute("BEGIN IMMEDIATE")
    with pytest.raises(JournalError, match="another program holds it; close") as error:
        journal.append(session, len(VISIT), TimePassed(20.0))
    one_line(error)
    database.execute("ROLLBACK")
    database.close()
    journal.append(session, len(VISIT), TimePassed(20.0))
    assert tuple(journal.events(session)) == (*VISIT, TimePassed(20.0))


def test_a_full_file_keeps_what_was_confirmed_and_goes_on_once_there_is_room(journal, session):
    database = journal._database
    pages = database.execute("PRAGMA page_count").fetchone()[0]
    database.execute(f"PRAGMA max_page_count = {pages}")
    with pytest.raises(JournalError, match="the disk is full; free some space") as error:
        fill(journal, session, len(VISIT))
    one_line(error)
    number = len(journal.events(session))
    assert number > len(VISIT)
    database.execute(f"PRAGMA max_page_count = {pages + 100}")
    journal.append(session, number, TimePassed(float(number)))
    assert len(journal.events(session)) == number + 1


_FILL = """
import signal, sys, resource
from pathlib import Path
from small_visit import OPENED, small_plan
from sidecue.record.port import JournalError
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import TimePassed
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))
journal = SqliteJournal(Path(sys.argv[1]))
session = journal.open_session(small_plan(), OPENED)
number = 0
try:
    while True:
        journal.append(session, number, TimePassed(float(number)))
        number += 1
except JournalError as error:
    print(session, number, error)
"""


def test_a_file_that_may_grow_no_further_keeps_every_confirmed_event(path):
    here = Path(__file__).parent
    done = subprocess.run(
        [sys.executable, "-c", _FILL, str(path)],
        env={**os.environ, "PYTHONPATH": str(here)},
        capture_output=True,
        text=True,
        check=True,
    )
    session, number, message = done.stdout.split(" ", 2)
    assert message.startswith(f"journal {path}: the disk")
    journal = SqliteJournal(path)
    events = journal.events(session)
    assert int(number) > 10
    assert [event.at for event in events] == [float(n) for n in range(int(number))]
    journal.close()


def test_a_disk_without_space_is_called_full(tmp_path):
    small = tmp_path / "small"
    small.mkdir()
    mounted = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=160k", "tmpfs", str(small)],
        capture_output=True,
        check=False,
    )
    if mounted.returncode:
        pytest.skip("mounting a small disk needs the right to mount")
    journal = SqliteJournal(small / "journal.sqlite3")
    try:
        session = journal.open_session(small_plan(), OPENED)
        with pytest.raises(JournalError, match="the disk is full; free some space"):
            fill(journal, session, 0)
        assert len(journal.events(session)) > 5
        journal.close()
        again = SqliteJournal(small / "journal.sqlite3")
        with pytest.raises(JournalError, match="the disk is full"):
            again.open_session(small_plan(), OPENED)
        again.close()
    finally:
        journal.close()
        subprocess.run(["umount", str(small)], check=True)


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


def test_check_tells_that_the_place_takes_a_write(path, journal, tmp_path):
    journal.check()
    assert journal.sessions() == ()
    with pytest.raises(JournalError):
        SqliteJournal(Path("/proc/no-such/journal.sqlite3")).check()


def test_threads_may_share_a_journal(journal):
    session = journal.open_session(small_plan(), OPENED)
    threads = [
        threading.Thread(target=lambda: [journal.sessions() for _ in range(50)]) for _ in range(3)
    ]
    for thread in threads:
        thread.start()
    for number in range(50):
        journal.append(session, number, TimePassed(float(number)))
    for thread in threads:
        thread.join()
    assert len(journal.events(session)) == 50
