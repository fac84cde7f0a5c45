"""A chair in use: a real session, board and server in this process, with a clock that can jump."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable, Iterator
from queue import SimpleQueue

import numpy as np

from sidecue.board.sizes import Viewing
from sidecue.cli.boarding import Board
from sidecue.cli.setting import setting
from sidecue.conductor.conducting import Conductor
from sidecue.conductor.running import Command, Commands, Typed, run_live
from sidecue.hearing.port import Block
from sidecue.procedure.plan import Plan
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.effects import Effect
from sidecue.session.events import Source
from sidecue.session.machine import SessionMachine

ACROSS_THE_ROOM = Viewing()
PLAN = setting("composite-46-mo", "example").plan


class JumpingClock:
    """Runs with the wall clock, and jumps when asked to."""

    def __init__(self) -> None:
        self._from = time.monotonic()

    def now(self) -> float:
        return time.monotonic() - self._from

    def jump(self, seconds: float) -> None:
        self._from -= seconds


class Silent:
    """A mouth that takes no time."""

    def carry_out(self, effects: Iterable[Effect], now: float) -> float:
        return now

    def busy_until(self, now: float) -> float:
        return now

    def saying(self, now: float) -> tuple[str, ...]:
        return ()


class Ticks:
    """A source of nothing."""

    def __init__(self, clock: JumpingClock) -> None:
        self._clock = clock
        self._closed = False
        self._bell = threading.Event()
        self.turns = 0

    def blocks(self) -> Iterator[Block]:
        while not self._closed:
            self._bell.wait(0.01)
            self._bell.clear()
            self.turns += 1
            yield Block(self._clock.now(), np.zeros(0, dtype=np.int16))

    def ring(self) -> None:
        """Yield a block at once."""
        self._bell.set()

    def close(self) -> None:
        self._closed = True
        self._bell.set()


class Chair:
    """One visit on one board. `journal` and `clock` outlive it, so that it can be seated again."""

    def __init__(
        self,
        plan: Plan = PLAN,
        viewing: Viewing = ACROSS_THE_ROOM,
        port: int = 0,
        journal: MemoryJournal | None = None,
        clock: JumpingClock | None = None,
        lan: str | None = None,
        prepare=None,
    ) -> None:
        self.clock = clock or JumpingClock()
        self.journal = journal or MemoryJournal()
        sessions = self.journal.sessions()
        name = (
            sessions[0].id if sessions else self.journal.open_session(plan, "2026-01-01T09:00:00")
        )
        self.conductor = Conductor(SessionMachine(plan), self.journal, name, Silent())
        self.board = Board(port, viewing, prepare, lan)
        self.commands: Commands = SimpleQueue()
        self.pressed = 0.0  # when the last cue was given by hand, in seconds since 1970
        self._source = Ticks(self.clock)
        self.board.join(self.conductor, self.commands, self.clock)
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()
        self.wait_for(lambda state: self.shown.get("kind") == "session")

    @property
    def shown(self):
        """The page that is shown now."""
        return self.board.feed.news.page

    @property
    def number(self) -> int:
        """Which page that is: they are counted."""
        return self.board.feed.news.page_number

    @property
    def url(self) -> str:
        return self.board.url

    @property
    def state(self):
        return self.conductor.state

    def type(self, phrase: str) -> None:
        """Say a phrase, as typed."""
        self.commands.put(Typed(phrase))
        self._source.ring()

    def wait_for(self, true, seconds: float = 60.0) -> None:
        end = time.monotonic() + seconds
        while not true(self.state):
            assert time.monotonic() < end, f"never came: {self.state}"
            time.sleep(0.002)

    def settle(self) -> None:
        """Wait until all that was asked for so far, and all that is due, has been done."""
        turn = self._source.turns
        while self._thread.is_alive() and (
            not self.commands.empty() or self._source.turns < turn + 2
        ):
            self._source.ring()
            time.sleep(0.001)

    def jump(self, seconds: float) -> None:
        """Let so many seconds pass at once."""
        self.clock.jump(seconds)
        self.settle()

    def go_to(self, step: str) -> None:
        """Do every step before `step`, at once."""
        plan = self.conductor.machine.plan
        for _ in range(1000):
            at = plan.steps[plan.step_index[self.state.step]]
            if at.id == step and self.state.question is None:
                return
            before = self._where()
            cue = at.done
            if self.state.question is not None:
                cue = next(each for each in plan.cues if each.id == "confirm")
            elif at.begin is not None and not self.state.under_way:
                cue = at.begin
            self.pressed = time.time()
            self.commands.put(Command(cue.id, Source.KEY, cue.phrases[0]))
            self.settle()
            if self._where() == before:
                self.jump(30)
        raise AssertionError(f"{step} was never reached")

    def _where(self):
        return self.state.step, self.state.under_way, self.state.question, self.state.mode

    def stop(self) -> None:
        """End the process's part: board and session go, journal and clock stay."""
        self._source.close()
        self._thread.join(5)
        self.board.close()

    def _run(self) -> None:
        self.conductor.resume(self.clock.now())
        run_live(self.conductor, None, self._source, self.clock, self.commands, self.board.show)
