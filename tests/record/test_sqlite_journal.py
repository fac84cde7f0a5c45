"""The journal on disk: what is flushed when, and which process runs which session."""

import os
import sqlite3
import subprocess
import sys
import threading
from pathlib import Path

import pytest
from damaging import one_line
from hypothesis import given, settings
from journal_contract import VISIT, JournalContract, replay_equals_the_visit
from random_events import event_lists
from small_visit import OPENED, small_plan

from sidecue.record.port import BusyError, JournalError
from sidecue.record.sqlite_journal import SqliteJournal
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


def test_check_tells_that_the_place_takes_a_write(path, journal, tmp_path):
    journal.check()
    assert journal.sessions() == ()
    with pytest.raises(JournalError):
        SqliteJournal(Path("/proc/no-such/journal.sqlite3")).check()
