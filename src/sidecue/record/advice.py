"""The patient's advice, printed large. It follows what was done, never what was planned."""

from __future__ import annotations

from sidecue.record.markdown import plain
from sidecue.record.story import Story
from sidecue.session.advising import CALL, advice_after


def advice_of(story: Story) -> tuple[str, ...]:
    """Return the sentences whose every fact came true in this session; none before the visit is
    read out, because until then it may still change them."""
    if not story.advice_due:
        return ()
    return advice_after(story.plan, story.confirmed)


def advice_sheet(story: Story, date: str) -> str:
    """Return the advice as Markdown of large headings, one sentence each, for the patient.

    `date` is how the visit's day is to be printed. Before its time it says so instead.
    """
    sentences = advice_of(story)
    if not story.advice_due:
        return "# The visit is not finished\n\n## There is no advice to give yet.\n"
    lines = ["# After your visit", "", f"{plain(date)} · {plain(story.plan.practice)}", ""]
    for sentence in sentences:
        lines += [f"## {plain(sentence)}", ""]
    return "\n".join([*lines, CALL, ""])
