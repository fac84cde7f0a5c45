"""The record of a stored visit can be written again, and a slip gets one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from sidecue.cli.main import run
from sidecue.cli.setting import DEFAULT_CASE, DEFAULT_PRACTICE, setting
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import CueGiven, Started


@pytest.fixture
def store(tmp_path: Path) -> Path:
    path = tmp_path / "journal.sqlite3"
    journal = SqliteJournal(path)
    session = journal.open_session(
        setting(DEFAULT_CASE, DEFAULT_PRACTICE).plan, "2026-03-02T09:00:00+00:00"
    )
    journal.append(session, 0, Started(0.0))
    journal.append(session, 1, CueGiven(4.0, "sign-in.done"))
    journal.close()
    return path


def test_the_newest_session_is_written_again(store: Path, tmp_path: Path) -> None:
    assert run(["record", "--store", str(store), "--out", str(tmp_path / "out")]) == 0
    (folder,) = (tmp_path / "out").iterdir()
    assert folder.name.startswith("visit-2026-03-02-0900-"), "its day and its time by the wall"
    assert "46 MO" in (folder / "record.md").read_text("utf-8")
    assert not (folder / "advice.md").exists(), "an unfinished visit has no advice yet"


def test_a_session_that_is_not_there_is_told(
    store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run(["record", "nothing-like-it", "--store", str(store)]) == 2
    assert capsys.readouterr().err.count("\n") == 1
