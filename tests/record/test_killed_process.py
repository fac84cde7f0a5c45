import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

from killed_child import WHOLE, fingerprint
from small_visit import OPENED, small_plan

from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import Restarted
from sidecue.session.machine import SessionMachine

KILLS = 40


def test_nothing_confirmed_is_lost_when_the_process_is_killed_at_any_moment(tmp_path):
    path, promised = tmp_path / "journal.sqlite3", tmp_path / "promised"
    journal = SqliteJournal(path)
    session = journal.open_session(small_plan(), OPENED)
    journal.close()
    script = str(Path(__file__).with_name("killed_child.py"))
    moments = random.Random(20260302)
    states: dict[int, str] = {}
    with subprocess.Popen(
        [sys.executable, script, str(path), session, str(promised)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as nursery:
        for turn in range(KILLS):
            nursery.stdin.write("go\n")
            nursery.stdin.flush()
            child = int(nursery.stdout.readline())
            if turn % 2:
                _await_a_promise(promised)  # so that it dies in mid-visit
            time.sleep(moments.uniform(0.0, 0.02))
            os.kill(child, signal.SIGKILL)
            assert int(nursery.stdout.readline()) == signal.SIGKILL  # it ran until it was killed
            states |= _promised(promised)
            _check(path, session, states)
        nursery.stdin.close()
    events = SqliteJournal(path).events(session)
    restarts = sum(isinstance(event, Restarted) for event in events)
    assert restarts >= KILLS // 2 - 1  # half of the children surely got as far as resuming
    assert len(events) > KILLS


def _await_a_promise(promised: Path) -> None:
    before = promised.stat().st_size if promised.exists() else 0
    deadline = time.monotonic() + 10.0
    while not promised.exists() or promised.stat().st_size == before:
        assert time.monotonic() < deadline, "the child confirms nothing"
        time.sleep(0.0005)


def _promised(promised: Path) -> dict[int, str]:
    if not promised.exists():
        return {}
    # A torn line promised nothing.
    lines = (line for line in promised.read_text().split("\n") if line.endswith(WHOLE))
    numbered = (line.removesuffix(WHOLE).split(" ", 1) for line in lines)
    return {int(number): state for number, state in numbered}


def _check(path: Path, session: str, states: dict[int, str]) -> None:
    journal = SqliteJournal(path)
    journal.claim(session)  # the dead process holds nothing
    events = journal.events(session)  # and the chain is whole
    # One more than promised may be there: on disk, killed before it could say so.
    assert len(states) <= len(events) <= len(states) + KILLS
    machine = SessionMachine(journal.plan(session))
    state = machine.first()
    for number, event in enumerate(events):
        state, _ = machine.step(state, event)
        assert states.get(number, fingerprint(state)) == fingerprint(state)
    assert set(states) <= set(range(len(events)))
    journal.close()
