"""A whole visit from a script, through the command line, to its record."""

import csv
from pathlib import Path

import pytest
from scripted import script_of

from sidecue.cli.setting import setting
from sidecue.record.sqlite_journal import SqliteJournal


@pytest.mark.parametrize("case", ["composite-46-mo", "amalgam-14-do"])
def test_a_whole_visit_runs_from_a_script_to_its_record(sidecue, stored, case):
    plan = setting(case, "example").plan
    Path("visit.txt").write_text(script_of(plan), "utf-8")
    ran = sidecue(
        "run", case, "--engine", "text", "--script", "visit.txt", "--mute", "--out", "record"
    )
    assert ran.code == 0, ran.err
    assert "[refused]" not in ran.out
    record = Path("record/record.md").read_text("utf-8").replace("\\", "")
    assert all(step.say in record for step in plan.steps)
    assert "NOT FINISHED" not in record
    assert "numb" in Path("record/advice.md").read_text("utf-8")
    with Path("record/timeline.csv").open(encoding="utf-8") as file:
        assert len(list(csv.reader(file))) > len(plan.steps)
    journal = SqliteJournal(stored)
    (session,) = journal.sessions()
    assert session.closed
    journal.close()
    assert "complete" in sidecue("resume", "--list").out
    assert "no interrupted session" in sidecue("resume").trouble


def test_a_visit_that_ends_early_says_how_to_go_on(sidecue):
    plan = setting("composite-46-mo", "example").plan
    Path("visit.txt").write_text(script_of(plan, most=20), "utf-8")
    ran = sidecue("run", "--engine", "text", "--script", "visit.txt", "--mute")
    assert ran.code == 1
    assert "go on with `sidecue resume`" in ran.out
    assert "NOT FINISHED" in Path("record.md").read_text("utf-8")
    assert not Path("advice.md").exists()


def test_what_is_said_can_be_written_to_a_file(sidecue):
    import soundfile

    Path("visit.txt").write_text("okay tray what comes next\n(wait 5)\n", "utf-8")
    ran = sidecue("run", "--engine", "text", "--script", "visit.txt", "--say-to", "said.wav")
    assert ran.code == 1
    assert soundfile.info("said.wav").duration > 3.0
