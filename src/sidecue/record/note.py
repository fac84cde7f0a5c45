"""The chart note: what was done when, in Markdown, for the licensed clinician to read and sign."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from sidecue.procedure.plan import Plan
from sidecue.record.markdown import bullets, plain, table
from sidecue.record.port import Seal
from sidecue.record.story import Outcome, Span, StepStory, Story, TimerStory
from sidecue.record.telling import UNDO
from sidecue.record.wall_clock import WallClock
from sidecue.record.wording import STATEMENT, asked, phrase_of, told_value
from sidecue.session.counting import Count

_VERDICTS = {
    "kept": "kept",
    "told": "told the time",
    "stopped": "stopped before its time",
    "unheard": "ran out; not told in the emergency",
    "short": "TOO SHORT",
    "overdue": "OVER TIME",
    "running": "still running",
}


def chart_note(story: Story, opened: str, session: str, seal: Seal) -> str:
    """Return the note. `opened` is ISO 8601 with offset, the time at second 0 of the session.

    Holds no name of the patient. Raises JournalError when `opened` cannot be read.
    """
    clock = WallClock.of(opened)
    sections = (
        ("", _head(story, clock)),
        ("Steps", _steps(story, clock)),
        ("Timers", _timers(story, clock)),
        ("Known to be true, and until when", _facts(story, clock)),
        ("Values, read back and confirmed", _values(story, clock)),
        ("Values asked for and not told", _unspoken(story, clock)),
        ("Anaesthetic count", _count(story)),
        ("Left out", _skips(story, clock)),
        ("Materials planned", _materials(story.plan)),
        ("Cautions given", _cautions(story, clock)),
        ("Held back", _refusals(story, clock)),
        ("Not understood", _unheard(story)),
        ("Interruptions", _interruptions(story, clock)),
        ("Warnings of the plan", bullets(_warnings(story.plan), "None.")),
        ("Seal", _seal(session, seal)),
    )
    lines = ["# Chart note", ""]
    for title, body in sections:
        lines += [*([f"## {title}", ""] if title else []), *body, ""]
    return "\n".join([*lines, f"_{STATEMENT}_", ""])


def _head(story: Story, clock: WallClock) -> list[str]:
    plan = story.plan
    end = "Finished" if story.finished else "NOT FINISHED; last entry"
    return [
        f"**{plain(plan.case_line)}** · {plain(plan.title)}",
        "",
        f"- Tooth: {plain(plan.tooth_spoken)}",
        f"- Practice: {plain(plan.practice)}",
        f"- Started: {clock.iso(story.started)}",
        f"- {end}: {clock.iso(story.ended)}",
    ]


def _steps(story: Story, clock: WallClock) -> list[str]:
    rows = [
        (
            str(number),
            step.step.say,
            _times(step.begun, clock),
            _times(step.done, clock),
            _remark(step),
        )
        for number, step in enumerate(story.steps, start=1)
    ]
    return table(("#", "Step", "Begun", "Done", "Remark"), rows)


def _remark(step: StepStory) -> str:
    if step.outcome is not Outcome.DONE:
        return step.outcome.value.upper()
    return "" if len(step.done) == 1 else f"done {_times_over(len(step.done))}"


def _times_over(count: int) -> str:
    return "once" if count == 1 else f"{count} times"


def _times(moments: Iterable[float], clock: WallClock) -> str:
    return ", ".join(clock.time(moment) for moment in moments)


def _timers(story: Story, clock: WallClock) -> list[str]:
    rows = [
        (
            timer.spec.name,
            clock.time(timer.started),
            asked(timer),
            "" if timer.ran is None else f"{timer.ran:.1f} s",
            _verdict(timer),
            timer.spec.source,
        )
        for timer in story.timers
    ]
    if not rows:
        return ["None ran."]
    return table(("Timer", "Started", "Asked", "Ran", "Verdict", "By"), rows)


def _verdict(timer: TimerStory) -> str:
    told = _VERDICTS.get(timer.verdict, timer.verdict)
    runs = timer.ran is None and timer.verdict == "overdue"
    return f"{told}, {_VERDICTS['running']}" if runs else told


def _facts(story: Story, clock: WallClock) -> list[str]:
    """A line for each fact and until when it held. What a step ends in its own course is told
    there; what went wrong or was taken back has a line of its own, in capitals."""
    lines: list[str] = []
    open_: dict[str, int] = {}
    for fact in story.facts:
        text, by = story.plan.fact_by_id[fact.fact].text, phrase_of(story.plan, fact.by)
        if fact.holds:
            open_[fact.fact] = len(lines)
            lines.append(f"{clock.time(fact.at)} {text}")
            continue
        began = open_.pop(fact.fact, None)
        if fact.expected and began is not None:
            lines[began] += f", until {clock.time(fact.at)} ({by})"
        elif fact.by == UNDO:
            lines.append(f"{clock.time(fact.at)} {text}: TAKEN BACK ({by})")
        else:
            lines.append(f"{clock.time(fact.at)} {text}: NO LONGER TRUE ({by})")
    return bullets(lines, "Nothing.")


def _values(story: Story, clock: WallClock) -> list[str]:
    told = [
        f"{clock.time(each.value.at)} "
        + told_value(each, "" if each.ended is None else clock.time(each.ended))
        for each in story.values
    ]
    return bullets(told, "None.")


def _unspoken(story: Story, clock: WallClock) -> list[str]:
    return bullets(
        (f"{clock.time(mark.at)} {mark.what.replace('-', ' ')}" for mark in story.unspoken), "None."
    )


def _count(story: Story) -> list[str]:
    basis = story.plan.anaesthetic
    if basis is None:
        return ["No local anaesthetic was planned to be counted."]
    return bullets(Count(basis, story.final.values).lines, "Nothing was counted.")


def _skips(story: Story, clock: WallClock) -> list[str]:
    return bullets(
        (
            f"{clock.time(skip.at)} {_step_say(story.plan, skip.step)} "
            f"Reason: {phrase_of(story.plan, skip.reason)}"
            for skip in story.skips
        ),
        "Nothing was left out.",
    )


def _materials(plan: Plan) -> list[str]:
    rows = [
        (
            material.role,
            material.product,
            material.lot or "not entered",
            material.expiry,
            ", ".join(f"{name} {seconds:g} s" for name, seconds in material.times),
        )
        for material in plan.materials
    ]
    return table(("Role", "Product", "Lot", "Expires", "Times"), rows)


def _cautions(story: Story, clock: WallClock) -> list[str]:
    cautions = story.plan.caution_by_id
    return bullets(
        (f"{clock.time(mark.at)} {cautions[mark.what].say}" for mark in story.cautions), "None."
    )


def _refusals(story: Story, clock: WallClock) -> list[str]:
    return bullets(
        (
            f"{clock.time(cue.at)} {cue.phrase or phrase_of(story.plan, cue.cue)}: {cue.refused}"
            + (f" [{cue.rule}]" if cue.rule else "")
            for cue in story.refusals
        ),
        "Nothing was held back.",
    )


def _unheard(story: Story) -> list[str]:
    counts = Counter(heard.why for heard in story.unheard)
    return bullets(
        (f"{why}: {_times_over(count)}" for why, count in counts.most_common()), "Nothing."
    )


def _interruptions(story: Story, clock: WallClock) -> list[str]:
    items = [(span.began, f"pause {_span(span, clock)}") for span in story.pauses]
    items += [
        (span.began, f"EMERGENCY {span.what} {_span(span, clock)}") for span in story.emergencies
    ]
    items += [(mark.at, f"{mark.what} {clock.time(mark.at)}") for mark in story.devices]
    items += [(mark.at, f"program started again {clock.time(mark.at)}") for mark in story.restarts]
    return bullets((text for _, text in sorted(items)), "None.")


def _span(span: Span, clock: WallClock) -> str:
    end = "not ended" if span.ended is None else clock.time(span.ended)
    return f"{clock.time(span.began)} to {end}"


def _warnings(plan: Plan) -> Iterable[str]:
    return (f"{warning.text} ({warning.source})" for warning in plan.warnings)


def _seal(session: str, seal: Seal) -> list[str]:
    return [f"Session {plain(session)}, {seal.events} events, SHA-256 `{seal.hash}`"]


def _step_say(plan: Plan, step: str) -> str:
    return plan.steps[plan.step_index[step]].say
