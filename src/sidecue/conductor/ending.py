"""What a session leaves behind, written from its journal."""

from __future__ import annotations

from pathlib import Path

from sidecue.record.advice import advice_sheet
from sidecue.record.note import chart_note
from sidecue.record.port import Journal, JournalError
from sidecue.record.story import Story
from sidecue.record.telling import tell
from sidecue.record.timeline_csv import timeline_csv


def story_of(journal: Journal, session: str) -> Story:
    """Return the story of a stored session. Raises JournalError."""
    return tell(journal.plan(session), journal.events(session))


def leave_record(journal: Journal, session: str, folder: Path) -> tuple[Path, ...]:
    """Write the chart note, the timeline and, from the read-out on, the patient's advice.

    Raises JournalError or OSError; the journal itself is untouched either way.
    """
    story = story_of(journal, session)
    opened = next((info.opened for info in journal.sessions() if info.id == session), None)
    if opened is None:
        raise JournalError(f"session {session} is not in this journal: check --store")
    folder.mkdir(parents=True, exist_ok=True)
    texts = {
        "record.md": chart_note(story, opened, session, journal.seal(session)),
        "timeline.csv": timeline_csv(story, opened),
    }
    if story.advice_due:
        texts["advice.md"] = advice_sheet(story, opened[:10])
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return tuple(folder / name for name in texts)
