"""The hash chain: each event's hash covers the one before it, so a changed or missing row shows.

It proves a slip, a crash or a careless edit, not a forger who recomputes the chain; a seal
printed on the chart note is what a forger cannot reach.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Sequence

from sidecue.record.port import Seal, TamperedError

Row = tuple[int, str, str]  # number, event JSON, hash


def digest(text: str) -> str:
    """Return the SHA-256 of `text` in hexadecimal digits."""
    return hashlib.sha256(text.encode()).hexdigest()


def root(session: str, opened: str, plan_digest: str) -> str:
    """Return the hash that event 0 follows: it binds the session, its clock and its plan."""
    return digest(json.dumps(["sidecue-journal", session, opened, plan_digest]))


def link(previous: str, session: str, number: int, body: str) -> str:
    """Return the hash of one event."""
    return digest(json.dumps([previous, session, number, body]))


def checked(session: str, first: str, rows: Iterable[Row], seal: Seal) -> Sequence[str]:
    """Return the event bodies in order. Raises TamperedError naming the first broken event."""
    previous, bodies = first, []
    for expected, (number, body, stored) in enumerate(rows):
        if number != expected:
            raise _broken(session, expected, "is missing")
        if not isinstance(body, str):
            raise _broken(session, number, "is no text any more")
        previous = link(previous, session, number, body)
        if previous != stored:
            raise _broken(session, number, "was changed after it was written")
        bodies.append(body)
    if len(bodies) < seal.events:
        raise _broken(session, len(bodies), "is missing")
    if len(bodies) > seal.events:
        raise _broken(session, seal.events, "was added by something else")
    if previous != seal.hash:
        raise _broken(session, max(seal.events - 1, 0), "does not match the session's seal")
    return bodies


def _broken(session: str, number: int, what: str) -> TamperedError:
    message = (
        f"session {session}: event {number} {what}; restore the journal from a backup, "
        "and do not rely on this session's record"
    )
    return TamperedError(message, session, number)
