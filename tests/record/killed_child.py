"""Run as a script: a process that forks visits to be killed.

A line on standard input starts a child; the child claims the session, resumes it and runs on
until it is killed. After every append it writes the event's number and the state it led to into
the file of acknowledgements: what stands there between two line ends was promised.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

from sidecue.procedure.plan import Plan
from sidecue.record.sqlite_journal import SqliteJournal
from sidecue.session.events import CueGiven, Event, Restarted, Started
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

#: Events after which a child that nobody kills ends by itself.
TOO_MANY = 3000

#: Ends a line that was written to its end.
WHOLE = " promised"


def fingerprint(state: SessionState) -> str:
    """The whole state as text that does not depend on the process."""
    loose = (state.mode, state.step, state.now, state.under_way, sorted(state.facts), state.done)
    return repr((*loose, state.timers, state.kept, state.skips, state.question, state.last_said))


def next_event(plan: Plan, state: SessionState) -> Event:
    """Go through the visit, and before filling get saliva in: it never ends."""
    step = plan.steps[plan.step_index[state.step]]
    if state.question is not None:
        return CueGiven(state.now + 1.0, "confirm")
    if step.id == "place":
        return CueGiven(state.now + 1.0, "saliva")
    cue = step.begin if step.begin is not None and not state.under_way else step.done
    return CueGiven(state.now + 16.0, cue.id)


def run_until_killed(path: Path, session: str, promised: Path) -> None:
    """Resume the visit and go on."""
    journal = SqliteJournal(path)
    journal.claim(session)
    plan = journal.plan(session)
    machine = SessionMachine(plan)
    state = machine.first()
    stored = journal.events(session)
    for event in stored:
        state, _ = machine.step(state, event)
    event: Event = Restarted(state.now) if stored else Started(0.0)
    handle = os.open(promised, os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    for number in range(len(stored), len(stored) + TOO_MANY):
        journal.append(session, number, event)
        state, _ = machine.step(state, event)
        # A line begins and ends itself: the one before it may have been torn by the kill.
        os.write(handle, f"\n{number} {fingerprint(state)}{WHOLE}\n".encode())
        event = next_event(plan, state)


def main() -> None:
    path, session, promised = Path(sys.argv[1]), sys.argv[2], Path(sys.argv[3])
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                run_until_killed(path, session, promised)
            finally:
                os._exit(3)
        print(child, flush=True)
        _, status = os.waitpid(child, 0)
        print(status, flush=True)


if __name__ == "__main__":
    main()
