"""A live visit whose process is killed goes on at the same step, its timers by the wall clock."""

import os
import re
import signal
import subprocess
import time
from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from executable import EXECUTABLE
from scripted import script_of

from sidecue.cli.setting import setting
from sidecue.cli.visit import epoch_of
from sidecue.conductor import ending
from sidecue.record import whole_files
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import CueGiven, Restarted
from sidecue.session.machine import SessionMachine

# Run first by a process whose input is a window: the window's end is told to it.
_IN_ITS_WINDOW = "import fcntl, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0); "
PATIENCE = 120.0  # seconds; a busy machine is slow, not wrong


class Chair:
    """A live session in a process of its own: what is typed, and what it shows."""

    def __init__(self, process: subprocess.Popen) -> None:
        self.process = process
        os.set_blocking(process.stdout.fileno(), False)
        self.shown = ""

    def type(self, *lines: str) -> None:
        self.process.stdin.write("".join(f"{line}\n" for line in lines).encode())
        self.process.stdin.flush()

    def wait_for(self, words: str) -> str:
        """Return what was shown up to and with `words`."""
        end = time.monotonic() + PATIENCE
        while words not in self.shown:
            assert time.monotonic() < end, f"{words!r} is not shown: {self.shown}"
            assert self.process.poll() is None, self.shown
            self.shown += (self.process.stdout.read() or b"").decode()
            time.sleep(0.01)
        before, _, self.shown = self.shown.partition(words)
        return before + words

    def kill(self) -> None:
        self.process.send_signal(signal.SIGKILL)
        assert self.process.wait() == -signal.SIGKILL


@pytest.fixture
def sit(environment):
    @contextmanager
    def sat(*arguments: str) -> Iterator[Chair]:
        with subprocess.Popen(
            [*EXECUTABLE, *arguments, "--engine", "text", "--mute"],
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
        ) as process:
            try:
                yield Chair(process)
            finally:
                process.kill()

    return sat


def folded(store):
    """The session as stored: its plan, events and the state they lead to."""
    journal = SqliteJournal(store)
    (info,) = journal.sessions()
    plan, events = journal.plan(info.id), journal.events(info.id)
    journal.close()
    machine = SessionMachine(plan)
    state = machine.first()
    for event in events:
        state, _ = machine.step(state, event)
    return plan, events, state


def opened_at(store) -> float:
    """Second 0 of the session's clock, in seconds since 1970."""
    journal = SqliteJournal(store)
    (info,) = journal.sessions()
    journal.close()
    return epoch_of(info.opened)


def before_the_topical(plan) -> list[str]:
    """What is said up to where the topical anaesthetic is applied: the first timer."""
    begun = next(step for step in plan.steps if step.timers)
    lines = script_of(plan).splitlines()
    phrase = (begun.begin or begun.done).phrases[0]
    return lines[: lines.index(f"{plan.address} {phrase}")]


def test_a_killed_visit_goes_on_at_the_same_step_with_its_timer_counted_on(sit, stored):
    plan = setting("composite-46-mo", "example").plan
    timed = next(step for step in plan.steps if step.timers)
    lasts = timed.timers[0].most
    assert lasts is not None
    first, *others = before_the_topical(plan)
    with sit("run") as chair:
        chair.type(first)
        chair.wait_for(f"[{plan.steps[0].done.id}]")
        chair.kill()
    # Killed between two steps: the step that was come to is the one that goes on.
    _, events, state = folded(stored)
    assert state.step == plan.steps[1].id
    with sit("resume") as chair:
        chair.wait_for("restart")
        chair.wait_for(plan.steps[1].say)
        chair.type(*others, f"{plan.address} {(timed.begin or timed.done).phrases[0]}")
        chair.wait_for(f"[{(timed.begin or timed.done).id}]")
        chair.kill()
    # Killed while a timer runs: nobody's process, but the gel works on.
    time.sleep(2.0)
    with sit("resume") as chair:
        chair.wait_for("restart")
        asked = time.time()
        chair.type(f"{plan.address} how long left")
        told = chair.wait_for("[how-long]") + chair.wait_for("\n") + chair.wait_for("\n")
        answered = time.time()
        chair.kill()
    _, later, state = folded(stored)
    (timer,) = state.timers
    heard = next(each for each in later if isinstance(each, CueGiven) and each.cue == "how-long")
    assert asked <= opened_at(stored) + heard.at <= answered  # by the wall, through two deaths
    (left,) = re.findall(r"says +(?:\D*)(\d+) second", told)
    assert int(left) == pytest.approx(lasts - (heard.at - timer.started), abs=1.0)
    assert heard.at - timer.started > 2.0
    # Killed again at once after a command was given: it is on disk, or was never acted on.
    with sit("resume") as chair:
        chair.wait_for("restart")
        chair.type(f"{plan.address} pause procedure")
        chair.kill()
    _, later, state = folded(stored)
    assert later[: len(events)] == events
    assert state.step in (timed.id, plan.steps[plan.step_index[timed.id] + 1].id)
    assert state.timers == (timer,)
    assert sum(isinstance(event, Restarted) for event in later) == 3


def test_two_processes_never_run_one_session(sit, sidecue):
    with sit("run") as chair:
        chair.wait_for("says")
        line = sidecue("resume", "--engine", "text", "--mute").trouble
        assert f"is being run by process {chair.process.pid}" in line
        assert "running now" in sidecue("resume", "--list").out
        line = sidecue("resume", "--engine", "text", "--mute").trouble
        assert f"is being run by process {chair.process.pid}" in line, "looking takes no lock"
        chair.kill()
    assert "interrupted" in sidecue("resume", "--list").out
    assert sidecue("resume", "--engine", "text", "--mute").code == 1  # the lock died with it


def test_ctrl_c_while_the_record_is_written_leaves_it_all_the_same(sidecue, home, monkeypatch):
    writes = whole_files.write_whole
    presses = iter([True, False])

    def pressed(files):
        if next(presses):
            raise KeyboardInterrupt
        writes(files)

    monkeypatch.setattr(ending, "write_whole", pressed)
    ran = sidecue("run", "--engine", "text", "--mute", typed="okay tray identity confirmed\n")
    assert ran.code == 130
    assert "not complete: go on with" in ran.out
    assert len(list(home.glob("visit-*/record.md"))) == 1


@pytest.mark.parametrize("ending", [signal.SIGINT, signal.SIGTERM])
def test_ctrl_c_leaves_a_record_and_says_how_to_go_on(sit, sidecue, home, ending):
    with sit("run") as chair:
        chair.wait_for("says")
        chair.process.send_signal(ending)
        assert chair.process.wait(timeout=PATIENCE) == 130
        rest = chair.shown + (chair.process.stdout.read() or b"").decode()
        assert "Traceback" not in rest
        assert "sidecue: stopped" in rest
    line = sidecue("resume", "--list").out
    assert "interrupted" in line
    session = line.split()[0]
    assert f"not complete: go on with `sidecue resume {session}`" in rest
    (record,) = home.glob("visit-*/record.md")
    assert "NOT FINISHED" in record.read_text("utf-8")
    assert session in record.read_text("utf-8").replace("\\", "")


def test_a_window_closed_in_the_middle_of_a_visit_leaves_a_record(environment, sidecue, home):
    ours, theirs = os.openpty()
    process = subprocess.Popen(
        [*EXECUTABLE[:-1], _IN_ITS_WINDOW + EXECUTABLE[-1], "run", "--engine", "text", "--mute"],
        env=environment | {"TERM": "xterm"},
        stdin=theirs,
        stdout=theirs,
        stderr=theirs,
        start_new_session=True,
    )
    os.close(theirs)
    try:
        shown, end = b"", time.monotonic() + PATIENCE
        while b"identity" not in shown.lower():
            assert time.monotonic() < end, shown
            shown += os.read(ours, 65536)
        os.close(ours)
        assert process.wait(timeout=PATIENCE) == 130
    finally:
        process.kill()
    (record,) = home.glob("visit-*/record.md")
    assert "NOT FINISHED" in record.read_text("utf-8")
    assert "interrupted" in sidecue("resume", "--list").out
