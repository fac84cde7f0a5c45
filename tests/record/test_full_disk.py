"""No room left: what was confirmed is kept, and the visit goes on once there is room."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from damaging import one_line
from journal_contract import VISIT
from small_visit import OPENED, small_plan

from sidecue.record.port import JournalError
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import TimePassed


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
