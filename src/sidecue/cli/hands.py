"""What is typed in the terminal: keys where it is one, else whole lines."""

from __future__ import annotations

import codecs
import os
import select
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from typing import TextIO

from sidecue.cli.trouble import Trouble
from sidecue.conductor.running import Press, Typed
from sidecue.session.keys import ENTER

Put = Callable[[Press | Typed], None]

_RUB_OUT, _RUB_WORD, _RUB_LINE, _NO_MORE = "\x7f\b", "\x17", "\x15", "\x04"


class LineEditor:
    """Makes lines of characters as a terminal does, whether it does so itself or not."""

    def __init__(self) -> None:
        self.so_far = ""
        self.ended = False
        self._escape = ""

    def take(self, typed: str) -> list[str]:
        """Return the lines that `typed` completes. `ended` is set by Ctrl-D on an empty line."""
        lines = []
        for each in typed:
            if self._escape or each == "\x1b":  # an arrow or the like: nothing moves here
                self._escape = "" if _escape_ends(self._escape, each) else self._escape + each
            elif each in "\r\n":
                lines.append(self.so_far)
                self.so_far = ""
            elif each in _RUB_OUT:
                self.so_far = self.so_far[:-1]
            elif each == _RUB_WORD:
                self.so_far = self.so_far.rstrip().rpartition(" ")[0]
            elif each == _RUB_LINE:
                self.so_far = ""
            elif each == _NO_MORE:
                self.ended = self.ended or not self.so_far
            elif each.isprintable():
                self.so_far += each
        return lines


def _escape_ends(before: str, each: str) -> bool:
    if len(before) <= 1:  # ESC, then what it is
        return len(before) == 1 and each not in "[O"
    return each.isalpha() or each == "~"


class _Lines:
    """The lines of standard input, read by one thread for as long as the program runs: a line
    that comes between two readers waits for the next one."""

    def __init__(self) -> None:
        self._lock = threading.Condition()
        self._waiting: list[Press | Typed] = []
        self._put: Put | None = None
        self._over: Callable[[], None] | None = None
        self._ended = False
        self.editor = LineEditor()
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
            at_terminal = self.stream.isatty()
            for line in _typed_at(self.stream, self.editor) if at_terminal else self.stream:
                with self._lock:
                    if self._put is None:
                        self._waiting.append(_told(line))
                    else:
                        self._put(_told(line))
        with self._lock:
            self._ended = True
            if self._over is not None:
                self._over()


def _typed_at(stream: TextIO, editor: LineEditor) -> Iterator[str]:
    """Yield the lines typed at a terminal, whether it gives whole lines or each key at once."""
    decoder = codecs.getincrementaldecoder(stream.encoding or "utf-8")("replace")
    while not editor.ended:
        typed = os.read(stream.fileno(), 1024)
        if not typed:
            return
        yield from editor.take(decoder.decode(typed))


_reading: list[_Lines] = []  # one, of the newest standard input


def _lines() -> _Lines:
    if not _reading or _reading[0].stream is not sys.stdin:
        _reading[:] = [_Lines()]
    return _reading[0]


def put_back(told: list[Press | Typed]) -> None:
    """Keep what was typed and not used for whoever reads next."""
    if told:
        _lines().put_back(told)


def line_so_far() -> str | None:
    """Return the line being typed, where the screen shows it and not the terminal; else None."""
    return _lines().editor.so_far if _drawn else None


_drawn: list[bool] = []  # not empty while a screen shows what is typed


@contextmanager
def hands(
    put: Put, over: Callable[[], None], *, typing: bool, drawn: bool = False
) -> Iterator[None]:
    """Read keys (or, when `typing` or without a terminal, whole lines) into `put`; call `over`
    when no more can come. `drawn` when a screen shows the line being typed: what a terminal writes
    by itself would push that screen about."""
    if _is_terminal() and not typing:
        with _one_key_at_a_time(), _keys(put, over):
            yield
        return
    lines = _lines()
    lines.to(put, over)
    try:
        if drawn and _is_terminal():
            with _one_key_at_a_time():
                _drawn.append(True)
                try:
                    yield
                finally:
                    _drawn.clear()
        else:
            yield
    finally:
        lines.to(None, None)


def _is_terminal() -> bool:
    return sys.stdin.isatty()


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
    tty.setcbreak(sys.stdin, termios.TCSADRAIN)  # what was typed ahead still counts
    try:
        yield
    finally:
        with suppress(termios.error):  # the window may have been closed
            termios.tcsetattr(sys.stdin, termios.TCSADRAIN, before)


def _read_keys(put: Put, ending: threading.Event, over: Callable[[], None]) -> None:
    while not ending.is_set():
        if select.select([sys.stdin], [], [], 0.2)[0]:
            key = sys.stdin.read(1)
            if not key:
                over()
                return
            put(Press(ENTER if key in "\r\n " else key))
