"""The record as an HL7 FHIR R4 bundle: Procedures and their Provenance, no name of anyone.

The visit is one Procedure; each step that was reached or left out is another, `partOf` the
first. Provenance carries the journal's seal. R4 asks for a subject: the practice's own system
puts the patient in its place.
"""

from __future__ import annotations

import json
import uuid
from typing import Any

from sidecue.record.port import Seal
from sidecue.record.story import Outcome, StepStory, Story
from sidecue.record.telling import OVERDUE
from sidecue.record.wall_clock import WallClock
from sidecue.record.wording import STATEMENT, asked, phrase_of, told_value
from sidecue.session.counting import Count

Resource = dict[str, Any]

#: R4 value set event-status, as far as a step can be.
_STATUS = {
    Outcome.DONE: "completed",
    Outcome.LEFT_OUT: "not-done",
    Outcome.OPEN: "in-progress",
}

_SUBJECT = {"display": "the patient of this visit"}


def fhir_bundle(story: Story, opened: str, session: str, seal: Seal) -> str:
    """Return the bundle as JSON. `opened` is ISO 8601 with offset, second 0 of the session.

    Identifiers are the same whenever the same session is written. Raises JournalError when
    `opened` cannot be read.
    """
    clock = WallClock.of(opened)
    visit = _urn(session, "visit")
    entries = [(visit, _visit(story, clock, session))]
    entries += [
        (_urn(session, step.step.id), _step(story, step, clock, visit))
        for step in story.steps
        if step.outcome in _STATUS
    ]
    targets = [reference for reference, _ in entries]
    entries.append((_urn(session, "provenance"), _provenance(story, clock, targets, session, seal)))
    bundle = {
        "resourceType": "Bundle",
        "type": "collection",
        "timestamp": clock.iso(story.ended),
        "entry": [{"fullUrl": url, "resource": resource} for url, resource in entries],
    }
    return json.dumps(bundle, indent=1, ensure_ascii=False)


def _visit(story: Story, clock: WallClock, session: str) -> Resource:
    plan = story.plan
    notes = [f"{plan.case_line}. {STATEMENT}", *_timer_notes(story), *_refusal_notes(story, clock)]
    notes += _value_notes(story, clock)
    resource = {
        "resourceType": "Procedure",
        "identifier": [{"value": session}],
        "status": "completed" if story.finished else "in-progress",
        "code": {"text": plan.title},
        "subject": _SUBJECT,
        "performedPeriod": _period(clock, story.started, story.ended if story.finished else None),
        "bodySite": [{"text": plan.tooth_spoken}],
        "usedCode": [{"text": f"{each.role}: {each.product}"} for each in plan.materials],
        "note": [{"text": text} for text in notes],
    }
    return {name: value for name, value in resource.items() if value}  # R4: no empty list


def _step(story: Story, step: StepStory, clock: WallClock, visit: str) -> Resource:
    resource: Resource = {
        "resourceType": "Procedure",
        "partOf": [{"reference": visit}],
        "status": _STATUS[step.outcome],
        "code": {"text": step.step.say},
        "subject": _SUBJECT,
    }
    if step.outcome is Outcome.LEFT_OUT:
        reason = next(skip.reason for skip in reversed(story.skips) if skip.step == step.step.id)
        resource["statusReason"] = {"text": phrase_of(story.plan, reason)}
    elif step.outcome is Outcome.DONE:
        began = step.begun[-1] if step.begun else step.arrived[-1]
        resource["performedPeriod"] = _period(clock, began, step.done[-1])
    return resource


def _provenance(
    story: Story, clock: WallClock, targets: list[str], session: str, seal: Seal
) -> Resource:
    covered = f"{session}: {seal.events} events, SHA-256 {seal.hash}"
    return {
        "resourceType": "Provenance",
        "target": [{"reference": target} for target in targets],
        "recorded": clock.iso(story.ended),
        "agent": [{"type": {"text": "assembler"}, "who": {"display": "sidecue"}}],
        "entity": [{"role": "source", "what": {"display": covered}}],
    }


def _period(clock: WallClock, start: float, end: float | None) -> dict[str, str]:
    period = {"start": clock.iso(start)}
    return period if end is None else {**period, "end": clock.iso(end)}


def _timer_notes(story: Story) -> list[str]:
    return [
        f"Timer {timer.spec.name}, asked {asked(timer)}: "
        + ("still running" if timer.ran is None else f"ran {timer.ran:.1f} s")
        + f", {timer.verdict}"
        for timer in story.timers
        if timer.ran is not None or timer.verdict == OVERDUE
    ]


def _refusal_notes(story: Story, clock: WallClock) -> list[str]:
    return [
        f"{clock.iso(cue.at)} held back {phrase_of(story.plan, cue.cue)}: {cue.refused}"
        for cue in story.refusals
    ]


def _value_notes(story: Story, clock: WallClock) -> list[str]:
    notes = []
    for each in story.values:
        ended = "" if each.ended is None else clock.iso(each.ended)
        notes.append(f"{clock.iso(each.value.at)} confirmed {told_value(each, ended)}")
    basis = story.plan.anaesthetic
    return notes if basis is None else [*notes, *Count(basis, story.final.values).lines]


def _urn(session: str, what: str) -> str:
    return uuid.uuid5(uuid.NAMESPACE_OID, f"{session}/{what}").urn
