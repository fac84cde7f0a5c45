"""What a session leaves behind, written from its journal."""

from __future__ import annotations

import re
from contextlib import suppress
from pathlib import Path

from sidecue.record.advice import advice_sheet
from sidecue.record.note import chart_note
from sidecue.record.port import Journal, JournalError
from sidecue.record.story import Story
from sidecue.record.telling import tell
from sidecue.record.timeline_csv import timeline_csv
from sidecue.record.wall_clock import WallClock
from sidecue.record.whole_files import write_whole

RECORD, TIMELINE, ADVICE = "record.md", "timeline.csv", "advice.md"


def story_of(journal: Journal, session: str) -> Story:
    """Return the story of a stored session. Raises JournalError."""
    return tell(journal.plan(session), journal.events(session))


def visit_folder(opened: str, session: str) -> str:
    """Return the name of the folder that holds one visit's files: its day, its time and the end
    of its id. The same visit has the same folder whenever it is written; no two share one."""
    zero = WallClock.of(opened).zero
    own = session.removeprefix(f"{zero:%Y-%m-%d}-")
    return f"visit-{zero:%Y-%m-%d-%H%M}-{re.sub('[^A-Za-z0-9-]', '_', own)}"


def leave_record(journal: Journal, session: str, out: Path) -> tuple[Path, ...]:
    """Write the chart note, the timeline and, from the read-out on, the patient's advice into the
    visit's own folder in `out`; all of them, or none.

    Raises JournalError or OSError; the journal itself is untouched either way.
    """
    story = story_of(journal, session)
    opened = next((info.opened for info in journal.sessions() if info.id == session), None)
    if opened is None:
        raise JournalError(f"session {session} is not in this journal: check --store")
    texts = {
        RECORD: chart_note(story, opened, session, journal.seal(session)),
        TIMELINE: timeline_csv(story, opened),
    }
    if story.advice_due:
        texts[ADVICE] = advice_sheet(story, opened[:10])
    folder = out / visit_folder(opened, session)
    folder.mkdir(parents=True, exist_ok=True)
    try:
        write_whole({folder / name: text.encode("utf-8") for name, text in texts.items()})
    except OSError:
        with suppress(OSError):  # no empty folder stays; one with files of before does
            folder.rmdir()
        raise
    if not story.advice_due:  # the read-out was taken back: so is the advice that followed it
        (folder / ADVICE).unlink(missing_ok=True)
    return tuple(folder / name for name in texts)
