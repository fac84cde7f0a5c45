"""The journal in one SQLite file: on disk before anything shows, and checked when read.

WAL with synchronous=FULL: a commit returns after the operating system says it is on the medium.
Every write is one explicit transaction. The file is opened at first use; a listing never makes
one. Threads may share a journal: one call at a time.
"""

from __future__ import annotations

import secrets
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from sidecue.procedure.exchange import plan_from_json, plan_to_json
from sidecue.procedure.plan import Plan
from sidecue.record import chain
from sidecue.record.event_codec import event_from_json, event_to_json
from sidecue.record.port import (
    ConflictError,
    JournalError,
    Seal,
    SessionInfo,
    TamperedError,
    UnreadableEventError,
)
from sidecue.record.session_lock import SessionLock, held
from sidecue.record.sqlite_errors import damaged, in_words, os_in_words
from sidecue.session.events import Event

#: Raise it with a migration whenever the tables change.
SCHEMA_VERSION = 1

_TABLES = """
CREATE TABLE schema_version (version INTEGER NOT NULL);
CREATE TABLE sessions (
    place INTEGER PRIMARY KEY,
    id TEXT NOT NULL UNIQUE,
    title TEXT NOT NULL,
    case_line TEXT NOT NULL,
    opened TEXT NOT NULL,
    plan TEXT NOT NULL,
    plan_digest TEXT NOT NULL,
    events INTEGER NOT NULL,
    last_hash TEXT NOT NULL,
    closed INTEGER NOT NULL DEFAULT 0
);
CREATE TABLE events (
    session TEXT NOT NULL REFERENCES sessions (id),
    number INTEGER NOT NULL,
    body TEXT NOT NULL,
    hash TEXT NOT NULL,
    PRIMARY KEY (session, number)
) WITHOUT ROWID;
"""


class SqliteJournal:
    """A `Journal` in the file `path`. `patience` is how long, in seconds, to wait for another
    program that is writing at this moment."""

    def __init__(self, path: Path, patience: float = 2.0) -> None:
        self._path = path
        self._patience = patience
        self._database: sqlite3.Connection | None = None
        self._locks: dict[str, SessionLock] = {}
        self._turn = threading.RLock()

    # -- writing ---------------------------------------------------------------------------------

    def open_session(self, plan: Plan, opened: str) -> str:
        """Store the plan, claim the new session and return its id: the day and six digits."""
        body = plan_to_json(plan)
        digest = chain.digest(body)
        session = f"{opened[:10]}-{secrets.token_hex(3)}"
        row = (session, plan.title, plan.case_line, opened, body, digest)
        with self._writing() as database:
            self._lock(session)  # before anyone can see it
            database.execute(
                "INSERT INTO sessions (id, title, case_line, opened, plan, plan_digest, events,"
                " last_hash) VALUES (?, ?, ?, ?, ?, ?, 0, ?)",
                (*row, chain.root(session, opened, digest)),
            )
        return session

    def claim(self, session: str) -> None:
        """Hold the session for this process. Raises BusyError when another one does."""
        with self._reading() as database:
            _session_row(database, session)
            self._lock(session)

    def append(self, session: str, number: int, event: Event) -> None:
        """Append event `number`; return when it is on disk."""
        body = event_to_json(event)
        with self._writing() as database:
            events, last_hash, closed = _session_row(database, session)
            if number < events:
                raise ConflictError(
                    f"session {session}: event {number} is already stored; read the session again"
                )
            if number > events:
                raise JournalError(
                    f"session {session}: event {number} cannot follow {events} stored events; "
                    "read the session again"
                )
            if closed:
                raise JournalError(f"session {session} is finished; open a new one")
            self._lock(session)
            new_hash = chain.link(last_hash, session, number, body)
            database.execute(
                "INSERT INTO events VALUES (?, ?, ?, ?)", (session, number, body, new_hash)
            )
            database.execute(
                "UPDATE sessions SET events = ?, last_hash = ? WHERE id = ?",
                (number + 1, new_hash, session),
            )

    def close_session(self, session: str) -> None:
        """Mark it finished and let go of it."""
        with self._writing() as database:
            _session_row(database, session)
            self._lock(session)
            database.execute("UPDATE sessions SET closed = 1 WHERE id = ?", (session,))
        self._locks.pop(session).release()

    # -- reading ---------------------------------------------------------------------------------

    def plan(self, session: str) -> Plan:
        """The plan the session was opened with."""
        with self._reading() as database:
            _session_row(database, session)
            body, digest = database.execute(
                "SELECT plan, plan_digest FROM sessions WHERE id = ?", (session,)
            ).fetchone()
        if not isinstance(body, str) or chain.digest(body) != digest:
            raise TamperedError(
                f"session {session}: its plan was changed after it was written; "
                "restore the journal from a backup",
                session,
                None,
            )
        try:
            return plan_from_json(body)
        except ValueError as error:
            raise JournalError(
                f"session {session}: {error}; read it with the version that recorded it"
            ) from error

    def events(self, session: str) -> Sequence[Event]:
        """All events in order, the chain checked."""
        with self._reading() as database:
            events, last_hash, _ = _session_row(database, session)
            opened, digest = database.execute(
                "SELECT opened, plan_digest FROM sessions WHERE id = ?", (session,)
            ).fetchone()
            rows = database.execute(
                "SELECT number, body, hash FROM events WHERE session = ? ORDER BY number",
                (session,),
            ).fetchall()
        first = chain.root(session, opened, digest)
        bodies = chain.checked(session, first, rows, Seal(events, last_hash))
        try:
            return tuple(event_from_json(body) for body in bodies)
        except UnreadableEventError as error:
            raise UnreadableEventError(f"session {session}: {error}") from error

    def seal(self, session: str) -> Seal:
        """How many events there are and the hash that covers them all."""
        with self._reading() as database:
            events, last_hash, _ = _session_row(database, session)
        return Seal(events, last_hash)

    def sessions(self) -> Sequence[SessionInfo]:
        """Newest first; none when no journal was made yet."""
        if self._database is None and not self._path.exists():
            return ()
        with self._reading() as database:
            rows = database.execute(
                "SELECT id, title, case_line, opened, events, closed FROM sessions"
                " ORDER BY place DESC"
            ).fetchall()
        for *texts, events, closed in rows:
            if not all(isinstance(text, str) for text in texts) or not all(
                isinstance(number, int) for number in (events, closed)
            ):
                raise damaged(self._path)
        return tuple(
            SessionInfo(session, title, case_line, opened, events, bool(closed))
            for session, title, case_line, opened, events, closed in rows
        )

    def running(self, session: str) -> bool:
        """Whether a process is running the session now."""
        return held(self._lock_file(session))

    def check(self) -> None:
        """Prove that the journal opens and takes a write. Raises JournalError."""
        with self._writing() as database:
            database.execute("UPDATE schema_version SET version = version")

    def close(self) -> None:
        """Release the file and every session held. Safe to call twice."""
        with self._turn:
            for lock in self._locks.values():
                lock.release()
            self._locks.clear()
            if self._database is not None:
                self._database.close()
                self._database = None

    # -- the file --------------------------------------------------------------------------------

    def _lock(self, session: str) -> None:
        if session not in self._locks:
            self._locks[session] = SessionLock(self._lock_file(session), session)

    def _lock_file(self, session: str) -> Path:
        return self._path.with_name(f"{self._path.name}.{session}.lock")

    @contextmanager
    def _reading(self) -> Iterator[sqlite3.Connection]:
        """One moment of the journal: what another process appends meanwhile is not seen."""
        with self._transaction("BEGIN") as database:
            yield database

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        """One transaction: all of it is on disk at the end, or none of it."""
        with self._transaction("BEGIN IMMEDIATE") as database:
            yield database

    @contextmanager
    def _transaction(self, begin: str) -> Iterator[sqlite3.Connection]:
        with self._turn:
            held = set(self._locks)
            try:
                if self._database is None:
                    self._database = _opened(self._path, self._patience)
                with _whole(self._database, begin):
                    yield self._database
            except BaseException as error:
                for session in self._locks.keys() - held:
                    self._locks.pop(session).release()
                if isinstance(error, UnicodeDecodeError):  # a text that is none any more
                    raise damaged(self._path) from error
                if isinstance(error, sqlite3.Error):
                    raise in_words(self._path, error) from error
                if isinstance(error, OSError):
                    raise os_in_words(self._path, error) from error
                raise


@contextmanager
def _whole(database: sqlite3.Connection, begin: str) -> Iterator[None]:
    database.execute(begin)
    try:
        yield
        database.execute("COMMIT")
    except BaseException:
        if database.in_transaction:  # a full disk has rolled back by itself
            database.execute("ROLLBACK")
        raise


def _session_row(database: sqlite3.Connection, session: str) -> tuple[int, str, bool]:
    row = database.execute(
        "SELECT events, last_hash, closed FROM sessions WHERE id = ?", (session,)
    ).fetchone()
    if row is None:
        raise JournalError(f"no session {session!r} in this journal; list the sessions it has")
    return row[0], row[1], bool(row[2])


def _opened(path: Path, patience: float) -> sqlite3.Connection:
    path.parent.mkdir(parents=True, exist_ok=True)
    database = sqlite3.connect(
        path, timeout=patience, isolation_level=None, check_same_thread=False
    )
    try:
        _prepare(database, path)
    except BaseException:
        database.close()
        raise
    return database


def _prepare(database: sqlite3.Connection, path: Path) -> None:
    # Whose file it is comes first: another program's database must not even change its mode.
    tables = _tables(database)
    if tables and "schema_version" not in tables:
        raise JournalError(
            f"journal {path}: it is another program's database; choose another place"
        )
    mode = database.execute("PRAGMA journal_mode = WAL").fetchone()[0]
    if mode != "wal":
        raise JournalError(f"journal {path}: no write-ahead log there; keep it on a local disk")
    database.execute("PRAGMA synchronous = FULL")
    database.execute("PRAGMA foreign_keys = ON")
    if not tables:
        with _whole(database, "BEGIN IMMEDIATE"):
            if not _tables(database):  # two processes may have come to the empty file at once
                for statement in _TABLES.split(";"):
                    database.execute(statement)
                database.execute("INSERT INTO schema_version VALUES (?)", (SCHEMA_VERSION,))
    version = database.execute("SELECT max(version) FROM schema_version").fetchone()[0]
    if version != SCHEMA_VERSION:
        raise JournalError(
            f"journal {path}: its format is {version}, this sidecue reads {SCHEMA_VERSION}; "
            "update sidecue, or choose another place"
        )


def _tables(database: sqlite3.Connection) -> frozenset[str]:
    rows = database.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
    return frozenset(row[0] for row in rows)
