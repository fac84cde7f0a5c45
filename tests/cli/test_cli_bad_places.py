"""Folders that cannot be written and disks that are full: one clear line, nothing lost."""

import errno
import os
import resource
import signal
import sqlite3
import subprocess
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from executable import EXECUTABLE
from scripted import script_of

from sidecue.cli.setting import setting
from sidecue.record import whole_files
from sidecue.record.sqlite_journal import SqliteJournal

TYPED = ("run", "--engine", "text", "--mute")


@pytest.fixture
def closed_folder(tmp_path) -> Iterator[Path]:
    """A folder that can be read and not written, for root too."""
    folder = tmp_path / "closed"
    folder.mkdir(mode=0o555)
    mounted = (
        os.getuid() == 0
        and not subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "ro,size=16k", "tmpfs", str(folder)],
            capture_output=True,
            check=False,
        ).returncode
    )
    if os.getuid() == 0 and not mounted:
        folder = Path("/proc")
    yield folder
    if mounted:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_folder_that_cannot_be_written_is_told_before_the_start(sidecue, stored, closed_folder):
    line = sidecue(*TYPED, "--out", closed_folder).trouble
    assert f"the record cannot be left in {closed_folder}" in line
    line = sidecue(*TYPED, "--store", closed_folder / "journal.sqlite3").trouble
    assert f"journal {closed_folder}" in line
    line = sidecue(*TYPED, "--say-to", closed_folder / "said.wav").trouble
    assert "said.wav" in line
    line = sidecue("shadow", "--to", closed_folder / "lesson.wav").trouble
    assert "lesson.wav" in line
    assert not stored.exists()


def test_a_file_in_the_way_of_a_folder_is_told(sidecue, stored):
    Path("file").write_text("no folder", "utf-8")
    for choice in (("--out", "file"), ("--out", "file/below"), ("--store", "file/below/j.db")):
        assert "file" in sidecue(*TYPED, *choice).trouble
    assert "there is no such folder" in sidecue("shadow", "--to", "no/lesson.wav").trouble
    assert not stored.exists()


def test_a_journal_that_is_none_is_told_and_left_alone(sidecue):
    other = Path("list.txt")
    other.write_text("gloves, masks, cotton rolls\n" * 40, "utf-8")
    before = other.read_bytes()
    assert "it is not a journal" in sidecue(*TYPED, "--store", other).trouble
    assert "it is not a journal" in sidecue("resume", "--list", "--store", other).trouble
    assert other.read_bytes() == before


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE sessions SET opened = x'80'",  # no text any more
        "UPDATE sessions SET title = CAST(x'80' AS TEXT)",  # a text that is none
        "UPDATE sessions SET events = 'many'",
    ],
)
def test_a_damaged_journal_is_told(sidecue, stored, change):
    sidecue(*TYPED, typed="okay tray identity confirmed\n")
    with closing(sqlite3.connect(stored)) as database, database:
        database.execute(change)
    assert "it is damaged" in sidecue("resume", "--list").trouble
    assert "it is damaged" in sidecue("resume", *TYPED[1:]).trouble


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE sessions SET opened = '2020-01-01T00:00:00+00:00'",
        "UPDATE sessions SET plan = replace(plan, 'identity', 'identify')",
        "UPDATE events SET body = replace(body, 'sign-in', 'sign-out')",
    ],
)
def test_a_session_that_was_changed_afterwards_is_not_resumed(sidecue, stored, change):
    sidecue(*TYPED, typed="okay tray identity confirmed\n")
    with closing(sqlite3.connect(stored)) as database, database:
        database.execute(change)
    assert "restore the journal from a backup" in sidecue("resume", *TYPED[1:]).trouble


def test_resume_without_an_interrupted_session_is_told(sidecue, stored):
    assert "no interrupted session" in sidecue("resume").trouble
    assert "no interrupted session '2020'" in sidecue("resume", "2020").trouble
    assert not stored.exists()
    listed = sidecue("resume", "--list")
    assert (listed.code, listed.out) == (0, "no session is stored\n")


@pytest.fixture
def small_disk(tmp_path) -> Iterator[tuple[Path, bool]]:
    """A disk that the journal of a visit fills; the second says whether it is a real one."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted = not subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=700k", "tmpfs", str(folder)],
        capture_output=True,
        check=False,
    ).returncode
    yield folder, mounted
    if mounted:
        subprocess.run(["umount", str(folder)], check=True)


def _no_room() -> None:
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (700_000, 700_000))


def test_a_full_disk_ends_the_visit_with_one_line_and_keeps_what_was_confirmed(
    home, environment, small_disk
):
    disk, real = small_disk
    store = disk / "journal.sqlite3"
    script = home / "visit.txt"
    asking = "okay tray what comes next\n" * 1000
    whole = script_of(setting("composite-46-mo", "example").plan, most=4)
    script.write_text(f"{whole}\n{asking}", "utf-8")
    told = [*TYPED, "--script", str(script), "--store", str(store), "--out", str(home / "out")]
    ran = subprocess.run(
        [*EXECUTABLE, *told],
        env=environment,
        preexec_fn=None if real else _no_room,
        capture_output=True,
        text=True,
        check=False,
        timeout=120,
    )
    assert ran.returncode == 2, ran.stderr
    lines = ran.stderr.splitlines()
    assert len(lines) == 1, ran.stderr
    assert lines[0].startswith(f"sidecue: journal {store}: ")
    assert "the disk" in lines[0]
    if real:
        subprocess.run(["mount", "-o", "remount,size=8m", str(disk)], check=True)
    journal = SqliteJournal(store)
    (session,) = journal.sessions()
    shown = ran.stdout.count("[")  # every cue that was shown as heard ...
    heard = sum(type(event).__name__ == "CueGiven" for event in journal.events(session.id))
    journal.close()
    assert shown == heard > 4  # ... is on disk, and no other


@pytest.fixture
def little_room(monkeypatch) -> list[int]:
    """A disk that takes so many files, and half of the next."""
    room = [100]

    def write(path: Path, content: bytes) -> None:
        room[0] -= 1
        path.write_bytes(content if room[0] >= 0 else content[: len(content) // 2])
        if room[0] < 0:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(whole_files, "_write", write)
    return room


def test_a_full_disk_under_the_record_leaves_no_half_file_and_says_how_to_write_it(
    sidecue, stored, little_room
):
    little_room[0] = 1  # the chart note fits, the timeline does not
    line = sidecue(*TYPED, "--out", "out", typed="okay tray identity confirmed\n").trouble
    journal = SqliteJournal(stored)
    (session,) = journal.sessions()
    assert len(journal.events(session.id)) >= 2
    journal.close()
    assert "the record cannot be left in out: the disk is full" in line
    assert f"The visit is safe in {stored}" in line
    assert f"`sidecue record {session.id} --out out` writes its record" in line
    assert not list(Path("out").iterdir())
    little_room[0] = 100
    assert sidecue("record", session.id, "--out", "out").code == 0
    assert len([path for path in Path("out").rglob("*") if path.is_file()]) == 2


def test_a_record_that_cannot_be_renewed_keeps_the_one_before(sidecue, little_room):
    sidecue(*TYPED, typed="okay tray identity confirmed\n")
    before = {path: path.read_bytes() for path in Path().glob("visit-*/*")}
    little_room[0] = 1
    assert "the disk is full" in sidecue("record").trouble
    assert {path: path.read_bytes() for path in Path().glob("visit-*/*")} == before
    assert len(before) == 2


def test_a_full_disk_under_the_prompts_does_not_stop_the_visit(sidecue):
    ran = sidecue(*TYPED[:3], "--say-to", "/dev/full", typed="okay tray identity confirmed\n")
    assert "[sign-in.done]" in ran.out
    assert "Traceback" not in ran.err
