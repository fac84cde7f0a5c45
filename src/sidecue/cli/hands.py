"""What is typed in the terminal: keys where it is one, else whole lines."""

from __future__ import annotations

import select
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress

from sidecue.cli.trouble import Trouble
from sidecue.conductor.running import Press, Typed
from sidecue.session.keys import ENTER

Put = Callable[[Press | Typed], None]


class _Lines:
    """The lines of standard input, read by one thread for as long as the program runs: a line
    that comes between two readers waits for the next one."""

    def __init__(self) -> None:
        self._lock = threading.Condition()
        self._waiting: list[Press | Typed] = []
        self._put: Put | None = None
        self._over: Callable[[], None] | None = None
        self._ended = False
        self.stream = sys.stdin
        threading.Thread(target=self._read, daemon=True).start()

    def to(self, put: Put | None, over: Callable[[], None] | None) -> None:
        """Give every line to `put` from now on, those that wait first; `over` at the end."""
        with self._lock:
            self._put, self._over = put, over
            if put is not None:
                for told in self._waiting:
                    put(told)
                self._waiting.clear()
                if self._ended and over is not None:
                    over()

    def put_back(self, told: list[Press | Typed]) -> None:
        """Keep what one reader did not use for the next."""
        with self._lock:
            self._waiting[:0] = told

    def _read(self) -> None:
        with suppress(OSError, ValueError):  # no input that can be read is no more input
            for line in self.stream:
                with self._lock:
                    if self._put is None:
                        self._waiting.append(_told(line))
                    else:
                        self._put(_told(line))
        with self._lock:
            self._ended = True
            if self._over is not None:
                self._over()


_reading: list[_Lines] = []  # one, of the newest standard input


def _lines() -> _Lines:
    if not _reading or _reading[0].stream is not sys.stdin:
        _reading[:] = [_Lines()]
    return _reading[0]


def put_back(told: list[Press | Typed]) -> None:
    """Keep what was typed and not used for whoever reads next."""
    if told:
        _lines().put_back(told)


@contextmanager
def hands(put: Put, over: Callable[[], None], *, typing: bool) -> Iterator[None]:
    """Read keys (or, when `typing` or without a terminal, whole lines) into `put`; call `over`
    when no more can come."""
    if sys.stdin.isatty() and not typing:
        with _one_key_at_a_time(), _keys(put, over):
            yield
        return
    lines = _lines()
    lines.to(put, over)
    try:
        yield
    finally:
        lines.to(None, None)


def _told(line: str) -> Press | Typed:
    words = line.strip()
    return Press(words or ENTER) if len(words) <= 1 else Typed(words)


@contextmanager
def _keys(put: Put, over: Callable[[], None]) -> Iterator[None]:
    ending = threading.Event()
    threading.Thread(target=_read_keys, args=(put, ending, over), daemon=True).start()
    try:
        yield
    finally:
        ending.set()


@contextmanager
def _one_key_at_a_time() -> Iterator[None]:
    try:
        import termios
        import tty
    except ImportError as error:
        raise Trouble("keys need a Unix terminal here: use --engine text to type") from error
    before = termios.tcgetattr(sys.stdin)
    tty.setcbreak(sys.stdin)
    try:
        yield
    finally:
        termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)


def _read_keys(put: Put, ending: threading.Event, over: Callable[[], None]) -> None:
    while not ending.is_set():
        if select.select([sys.stdin], [], [], 0.2)[0]:
            key = sys.stdin.read(1)
            if not key:
                over()
                return
            put(Press(ENTER if key in "\r\n " else key))
