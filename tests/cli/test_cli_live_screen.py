"""The screen of a visit on a real terminal: typed lines do not push it about."""

from __future__ import annotations

import fcntl
import io
import os
import pty
import struct
import subprocess
import termios
import time
from collections.abc import Iterator

import pytest
from executable import EXECUTABLE
from rich.console import Console
from rich.live import Live
from seated_at_terminal import seated
from terminal_seen import seen

from sidecue.board.ear import Ear
from sidecue.cli.hands import LineEditor
from sidecue.cli.live import EVERY, Screen
from sidecue.session.events import CueGiven

PATIENCE = 120.0  # seconds; a busy machine is slow, not wrong


class Terminal:
    """A visit at a terminal of its own."""

    def __init__(self, process: subprocess.Popen, handle: int) -> None:
        self.process, self._handle = process, handle
        self.written = ""

    def type(self, keys: str) -> None:
        os.write(self._handle, keys.encode())

    def wait_for(self, words: str) -> None:
        end = time.monotonic() + PATIENCE
        while not any(words in line for line in seen(self.written)):
            assert time.monotonic() < end, f"{words!r} is not shown: {seen(self.written)}"
            try:
                self.written += os.read(self._handle, 65536).decode()
            except BlockingIOError:
                time.sleep(0.01)


@pytest.fixture
def at_terminal(environment) -> Iterator[Terminal]:
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 60, 120, 0, 0))
    os.set_blocking(ours, False)
    with subprocess.Popen(
        [*EXECUTABLE, "run", "sealant-36-o", "--engine", "text", "--mute"],
        env={**environment, "TERM": "xterm-256color", "COLUMNS": "120", "LINES": "60"},
        stdin=theirs, stdout=theirs, stderr=theirs, start_new_session=True,
    ) as process:  # fmt: skip
        os.close(theirs)
        try:
            yield Terminal(process, ours)
        finally:
            process.kill()
            os.close(ours)


def test_typed_lines_leave_one_heading_and_what_is_typed_is_seen(at_terminal):
    at_terminal.wait_for("Step 1 of 31")
    for words in ("what now", "what comes next", "where are we"):
        at_terminal.type(f"okay tray {words}\n")
        at_terminal.wait_for(words)  # beside "Heard", as typed or as it counts
        at_terminal.wait_for("> _")
    at_terminal.type("okay tray identi")
    at_terminal.wait_for("> okay tray identi_")
    shown = "\n".join(seen(at_terminal.written))
    assert shown.count("Step 1 of 31") == 1, shown
    at_terminal.type("ty confirmed\n")
    at_terminal.wait_for("Step 2 of 31")
    assert "Step 1 of 31" not in "\n".join(seen(at_terminal.written))
    at_terminal.type("\x04")
    at_terminal.wait_for("not complete: go on with")
    assert at_terminal.process.wait(timeout=PATIENCE) == 1


@pytest.mark.parametrize(
    ("typed", "lines"),
    [
        ("hold everything\n", ["hold everything"]),
        ("holt\x7fd everything\r", ["hold everything"]),
        ("nonsense\x15hold everything\n", ["hold everything"]),
        ("hold nothing\x17everything\n", ["holdeverything"]),
        ("hold \x1b[A\x1b[1;5Ceverything\n", ["hold everything"]),
        ("a\nb\nc", ["a", "b"]),
        ("\n", [""]),
    ],
)
def test_a_line_is_typed_as_at_any_terminal(typed, lines):
    editor = LineEditor()
    assert [line for each in typed for line in editor.take(each)] == lines
    assert LineEditor().take(typed) == lines, "all at once is no different"
    assert not editor.ended


def test_no_more_is_typed_after_ctrl_d_on_an_empty_line():
    editor = LineEditor()
    assert editor.take("half\x04") == []
    assert not editor.ended
    editor.take("\n\x04")
    assert editor.ended


def test_the_screen_is_drawn_when_something_changes_and_not_otherwise():
    out = io.StringIO()
    conductor = seated()
    console = Console(file=out, force_terminal=True, width=100, height=50)
    with Live(console=console, auto_refresh=False) as live:
        screen = Screen(live, conductor, lambda: None)

        def drawn(at: float) -> bool:
            before = out.tell()
            screen.draw(at, Ear())
            return out.tell() > before

        assert drawn(0.0)
        assert not any(drawn(at / 8) for at in range(80)), "ten seconds in which nothing happens"
        conductor.give(CueGiven(11.0, "sign-in.done"))
        assert drawn(11.0)
        assert not drawn(11.1)


def test_the_screen_is_drawn_eight_times_a_second_at_most():
    conductor = seated()
    console = Console(file=io.StringIO(), force_terminal=True, width=100, height=50)
    typed = iter(range(10**9))  # something new at every look
    with Live(console=console, auto_refresh=False) as live:
        drawn: list[float] = []
        update = live.update
        live.update = lambda *a, **k: (drawn.append(time.monotonic()), update(*a, **k))
        screen = Screen(live, conductor, lambda: str(next(typed)))
        end = time.monotonic() + 1.0
        while time.monotonic() < end:
            screen.show(0.0, Ear())
    assert 2 <= len(drawn) <= 1.0 / EVERY + 1
