"""The end of a session in a few figures."""

from __future__ import annotations

from dataclasses import dataclass

from sidecue.record.story import Outcome, Story
from sidecue.session.events import Source

#: A timer's verdicts that say whether its limits were held; a count-down has none.
KEPT, NOT_KEPT = "kept", frozenset({"short", "overdue"})


@dataclass(frozen=True, slots=True)
class Summary:
    """Counts of one session."""

    steps_done: int
    steps: int
    left_out: int
    heard: int  # cues by voice, carried out
    keyed: int  # cues by key, pedal, text or board, carried out
    refused_by_hearing: int  # not understood well enough
    refused_by_rule: int  # understood, and held back by an interlock, a timer or a need
    timers_kept: int
    timers_not_kept: int
    cautions: int
    prompts: int


def summarise(story: Story) -> Summary:
    """Count what `story` tells."""
    carried_out = [cue for cue in story.cues if not cue.refused]
    heard = sum(cue.source is Source.VOICE for cue in carried_out)
    verdicts = [timer.verdict for timer in story.timers]
    outcomes = [step.outcome for step in story.steps]
    return Summary(
        steps_done=outcomes.count(Outcome.DONE),
        steps=len(outcomes),
        left_out=outcomes.count(Outcome.LEFT_OUT),
        heard=heard,
        keyed=len(carried_out) - heard,
        refused_by_hearing=len(story.unheard),
        refused_by_rule=len(story.refusals),
        timers_kept=verdicts.count(KEPT),
        timers_not_kept=sum(verdict in NOT_KEPT for verdict in verdicts),
        cautions=len(story.cautions),
        prompts=story.prompts,
    )


def summary_lines(summary: Summary) -> tuple[str, ...]:
    """Return the figures as lines for a terminal."""
    return (
        f"Steps done: {summary.steps_done} of {summary.steps}, left out: {summary.left_out}",
        f"Cues heard: {summary.heard}, by key, pedal or text: {summary.keyed}",
        f"Refused: {summary.refused_by_hearing} not understood, "
        f"{summary.refused_by_rule} unsafe or too early",
        f"Timers kept: {summary.timers_kept}, not kept: {summary.timers_not_kept}",
        f"Cautions spoken: {summary.cautions} in {summary.prompts} prompts",
    )
