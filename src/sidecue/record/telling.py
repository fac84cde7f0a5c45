"""From events to a story: the session is folded again and what changed is written down.

Nothing is decided here. The machine says what happened; this file compares the state before and
after each event and reads the effects.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace

from sidecue.procedure.plan import Plan, TimerSpec
from sidecue.record.port import JournalError
from sidecue.record.story import (
    CueStory,
    FactStory,
    Mark,
    Outcome,
    SkipStory,
    Span,
    StepStory,
    Story,
    TimerStory,
    Unheard,
    ValueStory,
)
from sidecue.session.effects import Chime, Effect, Refuse, Say
from sidecue.session.events import (
    CueGiven,
    DeviceBack,
    DeviceLost,
    Event,
    HearingRefused,
    Restarted,
    Started,
)
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Asking, KeptTimer, Mode, SessionState
from sidecue.session.timers import ALARMING, TOLERANCE, is_overdue
from sidecue.session.values import planned_instead, read_back

UNDO = "undo"
RUNNING = "running"
OVERDUE = "overdue"
TOLD, STOPPED, UNHEARD = "told", "stopped", "unheard"
TAKEN_BACK = "taken back"


def tell(plan: Plan, events: Sequence[Event]) -> Story:
    """Return the story of `events`, which may stop anywhere.

    Raises JournalError when they do not replay: another version's machine wrote them.
    """
    machine = SessionMachine(plan)
    state = machine.first()
    teller = _Teller(plan)
    for number, event in enumerate(events):
        try:
            after, effects = machine.step(state, event)
        except IllegalEvent as error:
            raise JournalError(
                f"event {number} does not replay: {error}; "
                "read this session with the version that recorded it"
            ) from error
        teller.note(state, event, after, effects)
        state = after
    return teller.story(state, events)


@dataclass(slots=True)
class _StepTimes:
    arrived: list[float] = field(default_factory=list)
    begun: list[float] = field(default_factory=list)
    done: list[float] = field(default_factory=list)


class _Teller:
    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._steps = {step.id: _StepTimes() for step in plan.steps}
        self._caution_by_text = {caution.say: caution.id for caution in plan.cautions}
        self._happenings = {happening.cue.id for happening in plan.happenings}
        self._cues: list[CueStory] = []
        self._unheard: list[Unheard] = []
        self._timers: dict[tuple[str, float], TimerStory] = {}
        self._facts: list[FactStory] = []
        self._values: list[ValueStory] = []
        self._skips: list[SkipStory] = []
        self._pauses: list[Span] = []
        self._emergencies: list[Span] = []
        self._cautions: list[Mark] = []
        self._devices: list[Mark] = []
        self._restarts: list[Mark] = []
        self._prompts = 0

    def note(
        self, before: SessionState, event: Event, after: SessionState, effects: Iterable[Effect]
    ) -> None:
        effects = tuple(effects)
        self._note_event(event, effects)
        self._note_steps(before, event, after)
        self._note_timers(after, effects)
        self._note_facts(before, event, after)
        self._note_values(before, event, after)
        self._note_modes(before, event, after)
        for effect in effects:
            if isinstance(effect, Say):
                self._prompts += 1
                if effect.text in self._caution_by_text:
                    self._cautions.append(Mark(event.at, self._caution_by_text[effect.text]))

    def story(self, final: SessionState, events: Sequence[Event]) -> Story:
        steps = tuple(self._step_stories())
        return Story(
            plan=self._plan,
            final=final,
            started=events[0].at if events else 0.0,
            ended=events[-1].at if events else 0.0,
            finished=final.mode is Mode.FINISHED,
            steps=steps,
            cues=tuple(self._cues),
            unheard=tuple(self._unheard),
            timers=tuple(self._late(timer, final) for timer in self._timers.values()),
            facts=tuple(self._facts),
            values=tuple(self._values),
            unspoken=tuple(_unspoken(steps, final)),
            skips=tuple(self._skips),
            pauses=tuple(self._pauses),
            emergencies=tuple(self._emergencies),
            cautions=tuple(self._cautions),
            devices=tuple(self._devices),
            restarts=tuple(self._restarts),
            prompts=self._prompts,
        )

    # -- one kind of change each -----------------------------------------------------------------

    def _note_event(self, event: Event, effects: tuple[Effect, ...]) -> None:
        match event:
            case CueGiven():
                held = [effect for effect in effects if isinstance(effect, Refuse)]
                why, rule = (held[-1].why, held[-1].rule) if held else ("", "")
                self._cues.append(
                    CueStory(event.at, event.cue, event.phrase, event.source, why, rule)
                )
            case HearingRefused():
                self._unheard.append(Unheard(event.at, event.why, event.nearest))
            case DeviceLost():
                self._devices.append(Mark(event.at, f"{event.device} lost"))
            case DeviceBack():
                self._devices.append(Mark(event.at, f"{event.device} back"))
            case Restarted():
                self._restarts.append(Mark(event.at, "restarted"))

    def _note_steps(self, before: SessionState, event: Event, after: SessionState) -> None:
        if _is_undo(event):
            for step in before.done[len(after.done) :]:
                self._steps[step].done.pop()
            if before.step == after.step and before.under_way and not after.under_way:
                self._steps[after.step].begun.pop()
            del self._skips[len(after.skips) :]
        else:
            for step in after.done[len(before.done) :]:
                self._steps[step].done.append(event.at)
            if after.under_way and not before.under_way:
                self._steps[after.step].begun.append(event.at)
            for skip in after.skips[len(before.skips) :]:
                self._skips.append(SkipStory(event.at, skip.step, skip.reason))
        if after.live and (after.step != before.step or isinstance(event, Started)):
            self._steps[after.step].arrived.append(event.at)

    def _note_timers(self, after: SessionState, effects: tuple[Effect, ...]) -> None:
        """Follow every timer by its name and start: undo may make an ended one run on."""
        gone = set(self._timers)
        for timer in after.timers:
            key = (timer.spec.name, timer.started)
            gone.discard(key)
            self._timers[key] = TimerStory(
                timer.spec, timer.step, timer.started, timer.least, None, RUNNING
            )
        for kept in after.kept:
            key = (kept.name, kept.started)
            gone.discard(key)
            known = self._timers.get(key) or TimerStory(
                self._spec(kept.step, kept.name), kept.step, kept.started, None, None, ""
            )  # started and ended by one event: the visit ended there
            verdict = kept.verdict
            if verdict == TOLD:  # that is what the machine calls every count-down that ended
                verdict = known.verdict if known.ran == kept.ran else _told(known, kept, effects)
            self._timers[key] = replace(known, ran=kept.ran, verdict=verdict)
        for key in gone:  # the words that started it were taken back: it never ran
            self._timers[key] = replace(self._timers[key], ran=None, verdict=TAKEN_BACK)

    def _note_facts(self, before: SessionState, event: Event, after: SessionState) -> None:
        by = event.cue if isinstance(event, CueGiven) else "the clock"
        happened = before.question is not None and before.question.target in self._happenings
        if before.question is not None and happened:
            by = before.question.target
        elif before.question is not None and before.question.about in (Asking.VALUE, Asking.STEP):
            by = before.question.cue
        here = self._plan.steps[self._plan.step_index[before.step]]
        ends = {*here.begin_voids, *here.voids} if not happened and not _is_undo(event) else set()
        for fact in sorted(after.facts - before.facts):
            self._facts.append(FactStory(event.at, fact, holds=True, by=by))
        spoiled = self._spoiled(before, after)
        for fact in sorted(before.facts - after.facts):
            at, why = spoiled.get(fact, (event.at, by))
            expected = fact in ends and fact not in spoiled
            self._facts.append(FactStory(at, fact, holds=False, by=why, expected=expected))

    def _note_values(self, before: SessionState, event: Event, after: SessionState) -> None:
        """Follow every value: undo may bring one back that had been struck or replaced."""
        if before.values == after.values:
            return
        struck = before.question is not None and before.question.about is Asking.STRIKE
        how = TAKEN_BACK if _is_undo(event) else "struck" if struck else "replaced"
        was, now = Counter(before.values), Counter(after.values)
        for value in (was - now).elements():
            at = next(
                n for n, each in _latest(self._values) if each.value == value and not each.how
            )
            self._values[at] = replace(self._values[at], ended=event.at, how=how)
        for value in (now - was).elements():
            lost = [n for n, each in _latest(self._values) if each.value == value and each.how]
            if lost:
                self._values[lost[0]] = replace(self._values[lost[0]], ended=None, how="")
            else:
                said, planned = read_back(self._plan, value), planned_instead(self._plan, value)
                self._values.append(ValueStory(value, said, planned=planned))

    def _spoiled(self, before: SessionState, after: SessionState) -> dict[str, tuple[float, str]]:
        """Facts lost because a timer's end passed: when that was, and which timer."""
        lost: dict[str, tuple[float, str]] = {}
        standing = {(timer.spec.name, timer.started) for timer in after.timers if not timer.overdue}
        for timer in before.timers:
            most = timer.spec.most
            passed = most is not None and timer.started + most <= after.now
            still = (timer.spec.name, timer.started) in standing
            if most is None or not passed or timer.overdue or still:
                continue
            for fact in timer.spec.overdue_voids:
                lost[fact] = (timer.started + most, f"{timer.spec.name} timer")
        return lost

    def _note_modes(self, before: SessionState, event: Event, after: SessionState) -> None:
        for mode, spans, what in (
            (Mode.PAUSED, self._pauses, "pause"),
            (Mode.EMERGENCY, self._emergencies, after.emergency or ""),
        ):
            was, now = before.mode is mode, after.mode is mode
            changed = mode is Mode.EMERGENCY and before.emergency != after.emergency
            if was and (not now or changed):
                spans[-1] = replace(spans[-1], ended=event.at)
            if now and (not was or changed):
                spans.append(Span(what, event.at, None))

    # -- at the end ------------------------------------------------------------------------------

    def _step_stories(self) -> Iterable[StepStory]:
        left_out = {skip.step: skip.at for skip in self._skips}
        for step in self._plan.steps:
            times = self._steps[step.id]
            last_done = times.done[-1] if times.done else -1.0
            last_arrived = times.arrived[-1] if times.arrived else -1.0
            if left_out.get(step.id, -2.0) >= max(last_arrived, last_done):
                outcome = Outcome.LEFT_OUT
            elif times.done and last_done >= last_arrived:
                outcome = Outcome.DONE
            else:
                outcome = Outcome.OPEN if times.arrived else Outcome.NOT_REACHED
            yield StepStory(
                step, tuple(times.arrived), tuple(times.begun), tuple(times.done), outcome
            )

    @staticmethod
    def _late(timer: TimerStory, final: SessionState) -> TimerStory:
        """Say of a timer that runs still whether its most has passed."""
        running = (
            each
            for each in final.timers
            if (each.spec.name, each.started) == (timer.spec.name, timer.started)
        )
        late = any(
            each.spec.kind in ALARMING and is_overdue(each, final.now - each.started)
            for each in running
        )
        return replace(timer, verdict=OVERDUE) if late else timer

    def _spec(self, step: str, name: str) -> TimerSpec:
        specs = self._plan.steps[self._plan.step_index[step]].timers
        return next(spec for spec in specs if spec.name == name)


def _told(known: TimerStory, kept: KeptTimer, effects: Iterable[Effect]) -> str:
    """Return whether anybody was told that a count-down had run out."""
    end = known.spec.most if known.spec.most is not None else known.least or known.spec.least
    if end is not None and kept.ran < end - TOLERANCE:
        return STOPPED
    return TOLD if any(isinstance(effect, Chime) for effect in effects) else UNHEARD


def _latest(values: Sequence[ValueStory]) -> Iterable[tuple[int, ValueStory]]:
    return reversed(tuple(enumerate(values)))


def _unspoken(steps: Iterable[StepStory], final: SessionState) -> Iterable[Mark]:
    """Yield each slot that no value stands for, and when a step that asked for it was done."""
    spoken = {value.slot for value in final.values}
    for step in steps:
        if step.outcome is not Outcome.DONE:
            continue
        for slot in step.step.asks:
            if slot not in spoken:
                spoken.add(slot)
                yield Mark(step.done[-1], slot)


def _is_undo(event: Event) -> bool:
    return isinstance(event, CueGiven) and event.cue == UNDO
