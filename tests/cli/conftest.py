"""A sidecue whose user has an empty home, run in this process or in one of its own."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from shipped_library import shipped
from sidecue.assets import data_folder
from sidecue.cli import main, setting
from sidecue.procedure.loading import load_library


@dataclass(frozen=True)
class Ran:
    """What came of one command line."""

    code: int
    out: str
    err: str

    @property
    def told(self) -> list[str]:
        """The lines that tell of trouble."""
        return [line for line in self.err.splitlines() if line.startswith("sidecue: ")]

    @property
    def trouble(self) -> str:
        """The one clear line of a command that could not be done; nothing else was said of it."""
        assert self.code == 2, self
        assert len(self.told) == 1, self.err
        assert "Traceback" not in self.err
        return self.told[0]


Sidecue = Callable[..., Ran]


@pytest.fixture(scope="session")
def prompts(tmp_path_factory) -> Path:
    """Rendered prompts are kept between the tests of one worker."""
    return tmp_path_factory.mktemp("cache")


@pytest.fixture
def home(tmp_path, monkeypatch, prompts) -> Path:
    """An empty home; the journal of its user does not exist yet."""
    folder = tmp_path / "home"
    folder.mkdir()
    monkeypatch.setenv("HOME", str(folder))
    monkeypatch.setenv("XDG_DATA_HOME", str(folder / "data"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(prompts))
    monkeypatch.chdir(folder)
    return folder


@pytest.fixture
def stored(home) -> Path:
    """Where the journal of that home would be."""
    return home / "data" / "sidecue" / "journal.sqlite3"


@pytest.fixture
def sidecue(home, monkeypatch) -> Sidecue:
    """Run a command line in this process; whatever is not foreseen escapes and fails the test.

    The shipped library is read once for all tests; folders added to it are read each time.
    """

    def library(folder, extra=()):
        own = extra or folder != data_folder("flows")
        return load_library(folder, extra) if own else shipped()

    monkeypatch.setattr(setting, "load_library", library)

    def run(*arguments: object, typed: str = "") -> Ran:
        out, err = io.StringIO(), io.StringIO()
        monkeypatch.setattr(sys, "stdin", io.StringIO(typed))
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
            code = main.run([str(argument) for argument in arguments])
        return Ran(code, out.getvalue(), err.getvalue())

    return run


@pytest.fixture
def environment(home) -> dict[str, str]:
    """The same home for a process of its own."""
    return {**os.environ, "PYTHONUNBUFFERED": "1", "COLUMNS": "200"}
