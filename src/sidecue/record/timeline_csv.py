"""The timeline as CSV: one row for each thing that happened, in order."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator

from sidecue.record.story import Story
from sidecue.record.wall_clock import WallClock
from sidecue.record.wording import asked, phrase_of

HEADS = ("time", "seconds", "kind", "what", "detail")

_Row = tuple[float, str, str, str]

#: What a spreadsheet would take for a formula.
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def timeline_csv(story: Story, opened: str) -> str:
    """Return the timeline. `seconds` are the session's clock, `time` is ISO 8601 with offset.

    Raises JournalError when `opened` cannot be read.
    """
    clock = WallClock.of(opened)
    sheet = io.StringIO()
    writer = csv.writer(sheet)
    writer.writerow(HEADS)
    for at, *texts in sorted(_rows(story), key=lambda row: row[0]):
        writer.writerow((clock.iso(at), f"{at:.3f}", *(_cell(text) for text in texts)))
    return sheet.getvalue()


def _cell(text: str) -> str:
    return f"'{text}" if text.startswith(_FORMULA) else text


def _rows(story: Story) -> Iterator[_Row]:
    yield from _course(story)
    for timer in story.timers:
        yield timer.started, "timer started", timer.spec.name, asked(timer)
        if timer.ran is not None:
            end = timer.started + timer.ran
            yield end, "timer ended", timer.spec.name, f"{timer.verdict} after {timer.ran:.1f} s"
    for fact in story.facts:
        kind = "fact true" if fact.holds else "fact ended" if fact.expected else "fact voided"
        yield fact.at, kind, fact.fact, fact.by
    for value in story.values:
        yield value.value.at, "value recorded", value.value.slot, value.say
        if value.ended is not None:
            yield value.ended, f"value {value.how}", value.value.slot, value.say
    for mark in story.unspoken:
        yield mark.at, "value not spoken", mark.what, ""
    for kind, spans in (("pause", story.pauses), ("emergency", story.emergencies)):
        for span in spans:
            yield span.began, f"{kind} began", span.what, ""
            if span.ended is not None:
                yield span.ended, f"{kind} ended", span.what, ""
    for mark in story.cautions:
        yield mark.at, "caution", mark.what, story.plan.caution_by_id[mark.what].say
    for mark in (*story.devices, *story.restarts):
        yield mark.at, "device" if mark in story.devices else "program", mark.what, ""


def _course(story: Story) -> Iterator[_Row]:
    for cue in story.cues:
        kind = "refused" if cue.refused else "cue"
        said = cue.phrase or cue.cue
        yield cue.at, kind, cue.cue, cue.refused or f"{said} ({cue.source.value})"
    for unheard in story.unheard:
        yield unheard.at, "not understood", unheard.nearest, unheard.why
    for step in story.steps:
        for kind, moments in (
            ("step reached", step.arrived),
            ("step begun", step.begun),
            ("step done", step.done),
        ):
            for at in moments:
                yield at, kind, step.step.id, step.step.say
    for skip in story.skips:
        yield skip.at, "step left out", skip.step, phrase_of(story.plan, skip.reason)
