"""What a screen shows: a pure projection of plan and state, the same for terminal and board."""

from __future__ import annotations

from dataclasses import dataclass
from math import isfinite

from sidecue.procedure.plan import Cue, Plan, Step, Tier, TimerKind
from sidecue.session.counting import Count
from sidecue.session.machine import SessionMachine
from sidecue.session.prompts import short_name
from sidecue.session.state import Mode, RunningTimer, SessionState
from sidecue.session.values import read_back


@dataclass(frozen=True, slots=True)
class TimerView:
    """A running timer at one moment. Seconds; `until` counts down to the next end that matters."""

    name: str
    kind: TimerKind
    elapsed: float
    until: float | None
    fraction: float  # 0 at the start, 1 at the end it runs to
    overdue: bool
    least: float | None = None  # its two ends, in seconds from its start
    most: float | None = None


@dataclass(frozen=True, slots=True)
class PhraseView:
    """A phrase that counts now."""

    phrase: str
    means: str
    tier: str
    choices: tuple[str, ...] = ()  # all values of a slot, where the phrase stands for several


@dataclass(frozen=True, slots=True)
class View:
    """One moment of a session, for people."""

    mode: str
    title: str
    case_line: str
    tooth: str
    step_number: int  # 1-based
    step_count: int
    step: str  # the step's short name
    say: str
    why: str
    hand: tuple[tuple[str, str], ...]  # (instrument id, name) to hand now
    following: tuple[tuple[str, str], ...]  # the next two after these
    cautions: tuple[str, ...]
    timers: tuple[TimerView, ...]
    phrases: tuple[PhraseView, ...]
    question: str  # what is being asked, or empty
    emergency: tuple[str, ...]  # its lines while one is on
    last_said: str
    lost: tuple[str, ...]
    skipped: tuple[str, ...]
    values: tuple[str, ...] = ()  # confirmed values that stand, as they were read back
    count: tuple[str, ...] = ()  # the count of anaesthetic, once anything was counted
    count_short: str = ""  # the same in one line for across the room
    asked: tuple[str, ...] = ()  # what this step asks for and nobody has told yet
    lapses: float | None = None  # when silence answers the question with no; session seconds


def view(machine: SessionMachine, state: SessionState, now: float) -> View:
    """Project `state` at `now` (seconds on the session's clock)."""
    plan = machine.plan
    index = plan.step_index[state.step]
    step = plan.steps[index]
    count = None if plan.anaesthetic is None else Count(plan.anaesthetic, state.values)
    emergency = next((e.says for e in plan.emergencies if e.id == state.emergency), ())
    return View(
        mode=state.mode.value,
        title=plan.title,
        case_line=plan.case_line,
        tooth=plan.tooth_spoken,
        step_number=index + 1,
        step_count=len(plan.steps),
        step=short_name(step.id),
        say=step.say,
        why=step.why,
        hand=_named(plan, step.hand),
        following=_named(plan, _following(plan, index)),
        cautions=tuple(plan.caution_by_id[caution].say for caution in step.cautions),
        timers=tuple(_timer(timer, now) for timer in state.timers) if state.live else (),
        phrases=_phrases(machine, state),
        question="" if state.question is None else state.question.say,
        emergency=emergency if state.mode is Mode.EMERGENCY else (),
        last_said=state.last_said,
        lost=tuple(sorted(state.lost)),
        skipped=tuple(short_name(skip.step) for skip in state.skips),
        values=tuple(read_back(plan, value) for value in state.values),
        count=() if count is None else count.lines,
        count_short="" if count is None else count.short,
        asked=_asked(plan, step, state),
        lapses=_lapses(state),
    )


def offered(machine: SessionMachine, state: SessionState) -> tuple[Cue, ...]:
    """Return the cues that people are shown. What disagrees with the plan is heard, to be refused,
    but nobody is led to say it."""
    refused = {slot.others.id for slot in machine.plan.slots if slot.others is not None}
    return tuple(cue for cue in machine.cues_now(state) if cue.id not in refused)


def _phrases(machine: SessionMachine, state: SessionState) -> tuple[PhraseView, ...]:
    """Return what may be said, the values of one slot as its first and last alone."""
    slots = {v.cue.id: slot for slot in machine.plan.slots for v in slot.values}
    found: list[PhraseView] = []
    values: dict[str, list[str]] = {}
    for cue in offered(machine, state):
        slot = slots.get(cue.id)
        if slot is None:
            found.append(PhraseView(cue.phrases[0], cue.means, cue.tier.value))
        else:
            values.setdefault(slot.id, []).append(cue.phrases[0])
    for name, said in values.items():
        phrase = said[0] if len(said) == 1 else f"{said[0]} ... {said[-1]}"
        means = f"Records, once confirmed: {short_name(name)}."
        choices = tuple(said) if len(said) > 1 else ()
        found.append(PhraseView(phrase, means, Tier.GUARDED.value, choices))
    return tuple(found)


def _lapses(state: SessionState) -> float | None:
    """Return when silence answers with no; None where nothing is asked or it waits for ever."""
    if state.question is None or not isfinite(state.question.lapses):
        return None
    return state.question.lapses


def _asked(plan: Plan, step: Step, state: SessionState) -> tuple[str, ...]:
    told = {value.slot for value in state.values}
    can = {slot.id for slot in plan.slots}
    return tuple(short_name(slot) for slot in step.asks if slot in can and slot not in told)


def _named(plan: Plan, items: tuple[str, ...]) -> tuple[tuple[str, str], ...]:
    return tuple((item, plan.tray_by_id[item].name) for item in items)


def _following(plan: Plan, index: int) -> tuple[str, ...]:
    """Return the next two instruments that are not in hand already."""
    seen = set(plan.steps[index].hand)
    found: list[str] = []
    for step in _after(plan, index):
        for item in step.hand:
            if item not in seen:
                seen.add(item)
                found.append(item)
                if len(found) == 2:
                    return tuple(found)
    return tuple(found)


def _after(plan: Plan, index: int) -> tuple[Step, ...]:
    return plan.steps[index + 1 :]


def _timer(timer: RunningTimer, now: float) -> TimerView:
    elapsed = max(0.0, now - timer.started)
    ends = [end for end in (timer.least, timer.spec.most) if end is not None]
    ahead = [end for end in ends if end > elapsed]
    end = min(ahead) if ahead else None
    last = max(ends, default=0.0)
    return TimerView(
        name=short_name(timer.spec.name),
        kind=timer.spec.kind,
        elapsed=elapsed,
        until=None if end is None else end - elapsed,
        fraction=1.0 if last <= 0 else min(1.0, elapsed / (end if end is not None else last)),
        overdue=timer.overdue,
        least=timer.least,
        most=timer.spec.most,
    )
