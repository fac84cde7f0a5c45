"""A whole visit from a script, through the command line, to its record."""

import csv
import re
import subprocess
from pathlib import Path

import pytest
from executable import EXECUTABLE
from scripted import script_of

from sidecue.cli.setting import setting
from sidecue.cli.telling import clock_text
from sidecue.record.sqlite_journal import SqliteJournal


def visit_in(out) -> Path:
    """The folder of the one visit whose files lie in `out`."""
    (folder,) = Path(out).glob("visit-*")
    return folder


def session_of(folder: Path) -> str:
    """The id of the session that a visit's record is of."""
    (session,) = re.findall(r"Session ([0-9a-f-]+)", plain_text(folder / "record.md"))
    return session


def plain_text(record: Path) -> str:
    return record.read_text("utf-8").replace("\\", "")


@pytest.mark.parametrize("case", ["composite-46-mo", "amalgam-14-do"])
def test_a_whole_visit_runs_from_a_script_to_its_record(sidecue, stored, case):
    plan = setting(case, "example").plan
    Path("visit.txt").write_text(script_of(plan), "utf-8")
    ran = sidecue(
        "run", case, "--engine", "text", "--script", "visit.txt", "--mute", "--out", "record"
    )
    assert ran.code == 0, ran.err
    assert "[refused]" not in ran.out
    folder = visit_in("record")
    record = (folder / "record.md").read_text("utf-8").replace("\\", "")
    assert all(step.say in record for step in plan.steps)
    assert "NOT FINISHED" not in record
    assert "numb" in (folder / "advice.md").read_text("utf-8")
    with (folder / "timeline.csv").open(encoding="utf-8") as file:
        rows = list(csv.reader(file))
    assert len(rows) > len(plan.steps)
    cues = [row[4] for row in rows if row[2] == "cue"]
    assert cues
    assert all(each.endswith("(text)") for each in cues), "a script is not heard by voice"
    journal = SqliteJournal(stored)
    (session,) = journal.sessions()
    assert session.closed
    journal.close()
    assert "complete" in sidecue("resume", "--list").out
    assert "no interrupted session" in sidecue("resume").trouble
    line = sidecue("resume", session.id).trouble
    assert f"session {session.id} is complete" in line
    assert f"`sidecue record {session.id}`" in line


def test_a_visit_that_ends_early_says_how_to_go_on(sidecue):
    plan = setting("composite-46-mo", "example").plan
    Path("visit.txt").write_text(script_of(plan, most=20), "utf-8")
    ran = sidecue("run", "--engine", "text", "--script", "visit.txt", "--mute")
    assert ran.code == 1
    assert f"go on with `sidecue resume {session_of(visit_in('.'))}`" in ran.out
    assert "NOT FINISHED" in (visit_in(".") / "record.md").read_text("utf-8")
    assert not (visit_in(".") / "advice.md").exists()


def test_the_next_patient_s_visit_leaves_the_last_one_s_files_alone(sidecue):
    plan = setting("sealant-36-o", "example").plan
    Path("whole.txt").write_text(script_of(plan), "utf-8")
    Path("short.txt").write_text(script_of(plan, most=3), "utf-8")
    run = ("run", "sealant-36-o", "--engine", "text", "--mute", "--script")
    assert sidecue(*run, "whole.txt").code == 0
    first = visit_in(".")
    before = {path.name: path.read_bytes() for path in first.iterdir()}
    assert set(before) == {"record.md", "timeline.csv", "advice.md"}
    assert sidecue(*run, "short.txt").code == 1
    assert {path.name: path.read_bytes() for path in first.iterdir()} == before
    (second,) = set(Path().glob("visit-*")) - {first}
    assert {path.name for path in second.iterdir()} == {"record.md", "timeline.csv"}
    assert not [path for path in Path().iterdir() if path.suffix == ".md"]
    assert session_of(first) != session_of(second)


def test_a_visit_written_again_is_written_to_its_own_folder(sidecue):
    plan = setting("sealant-36-o", "example").plan
    Path("visit.txt").write_text(script_of(plan), "utf-8")
    sidecue("run", "sealant-36-o", "--engine", "text", "--script", "visit.txt", "--mute")
    folder = visit_in(".")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    (folder / "timeline.csv").unlink()
    assert sidecue("record", session_of(folder)).code == 0
    assert {path.name: path.read_bytes() for path in visit_in(".").iterdir()} == before


def test_advice_goes_again_where_the_read_out_it_followed_was_taken_back(sidecue):
    plan = setting("sealant-36-o", "example").plan
    Path("visit.txt").write_text(script_of(plan, most=3), "utf-8")
    sidecue("run", "sealant-36-o", "--engine", "text", "--script", "visit.txt", "--mute")
    (visit_in(".") / "advice.md").write_text("# After your visit\n", "utf-8")
    assert sidecue("record").code == 0
    assert {path.name for path in visit_in(".").iterdir()} == {"record.md", "timeline.csv"}


def test_a_visit_goes_on_where_nobody_reads_what_it_prints(home, environment):
    Path("visit.txt").write_text(script_of(setting("sealant-36-o", "example").plan), "utf-8")
    with subprocess.Popen(
        [*EXECUTABLE, "run", "sealant-36-o", "--engine", "text", "--script", "visit.txt", "--mute"],
        env=environment, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as process:  # fmt: skip
        process.stdout.readline()
        process.stdout.close()
        told = process.stderr.read().splitlines()
        assert process.wait(timeout=120) == 0
    assert told == [
        "sidecue: nobody reads the output any more: the visit goes on, and its record is left"
    ]
    assert {path.name for path in visit_in(".").iterdir()} == {
        "record.md", "timeline.csv", "advice.md"
    }  # fmt: skip


def test_moments_are_told_in_minutes_and_seconds():
    assert [clock_text(at) for at in (0.0, 83.42, 659.94, 659.96, 3600.0)] == [
        " 0:00.0", " 1:23.4", "10:59.9", "11:00.0", "60:00.0"
    ]  # fmt: skip


def test_what_was_not_understood_is_told_as_it_was_heard(sidecue):
    typed = "okay tray tooth four six\n"
    ran = sidecue("run", "--engine", "text", "--mute", typed=typed)
    assert 'ignores  "okay tray tooth four six": not a cue of this step' in ran.out
    assert "nearest" not in ran.out


def test_how_a_script_is_written_is_told_where_one_looks(sidecue):
    told = " ".join(sidecue("run", "--help").out.split())
    assert "(wait 20)" in told
    assert "02:30.5 okay tray" in told


def test_what_is_said_can_be_written_to_a_file(sidecue):
    import soundfile

    Path("visit.txt").write_text("okay tray what comes next\n(wait 5)\n", "utf-8")
    ran = sidecue("run", "--engine", "text", "--script", "visit.txt", "--say-to", "said.wav")
    assert ran.code == 1
    assert soundfile.info("said.wav").duration > 3.0
