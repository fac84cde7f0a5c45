"""A store on disk with one visit in it."""

import pytest
from journal_contract import VISIT
from small_visit import OPENED, small_plan

from sidecue.record.sqlite_journal import SqliteJournal


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
