"""The session machine: `step(state, event) -> (state, effects)`.

Rules of this file:
1. Everything that decides what a session does is here or called from here; nothing else changes a
   state. It reads no clock and makes no sound: time comes in on events, effects go out as data.
2. Same events, same state. Replay, resume and exploration fold the same function.
3. An illegal event (a cue that does not count now, a clock running backwards) raises IllegalEvent
   and leaves the state as it was. An unsafe request is legal: it is refused, with its reason.
4. Facts are gained only in `_act`, behind the interlocks (`holds`, `procedure.interlocks`).
5. Physical truth beats tidy state: undo takes back claims, never what was done to the patient or
   the material; timers run through pauses and emergencies.
"""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from math import isfinite

from sidecue.procedure.plan import Cue, Emergency, Happening, Plan, Step, Tier
from sidecue.session import events as e
from sidecue.session import timers as t
from sidecue.session.effects import Chime, ChimeKind, Effect, Refuse, Say, Silence, Urgency
from sidecue.session.holds import Hold, Holds, Part, entry_part
from sidecue.session.illegal import IllegalEvent
from sidecue.session.listening import Listening
from sidecue.session.prompts import Prompter, short_name
from sidecue.session.route import END, Route, next_mode
from sidecue.session.state import Asking, Mode, Question, RunningTimer, SessionState, Skip
from sidecue.session.telling import FREE, Teller
from sidecue.session.undoing import entered, remembered, taken_back
from sidecue.session.values import Said, Values
from sidecue.session.voicing import Turn, Voice
from sidecue.session.voiding import without


class SessionMachine:
    """Runs one plan. Holds no session: every method takes the state it works on."""

    def __init__(self, plan: Plan) -> None:
        if not plan.startable:
            raise ValueError("a plan with open questions or blocks cannot be run")
        self.plan = plan
        self._prompts = Prompter(plan)
        self._voice = Voice(plan, self._prompts)
        self._values = Values(plan, self._prompts)
        self._listening = Listening(plan, self._values)
        self._holds = Holds(plan, self._prompts)
        self._teller = Teller(plan, self._prompts)
        self._by_cue: dict[str, tuple[Step, Part]] = {}
        for each in plan.steps:
            self._by_cue[each.done.id] = (each, "done")
            if each.begin is not None:
                self._by_cue[each.begin.id] = (each, "begin")
        self._happenings = {happening.cue.id: happening for happening in plan.happenings}
        self._emergencies = {emergency.cue.id: emergency for emergency in plan.emergencies}
        self._skip_reasons = frozenset(cue.id for cue in plan.skip_reasons)

    @cached_property
    def _route(self) -> Route:
        return Route(self.plan)  # long to build, and never asked by who only looks

    # -- looking ---------------------------------------------------------------------------------

    def first(self) -> SessionState:
        """Return the state before the start."""
        return SessionState(mode=Mode.READY, step=self.plan.steps[0].id)

    def cues_now(self, state: SessionState) -> tuple[Cue, ...]:
        """Return the cues that count now, the current step's first."""
        return self._listening.now(state)

    def answering(self, state: SessionState) -> bool:
        """Return True while an answer is awaited, so that no address phrase is needed."""
        return state.question is not None

    def next_deadline(self, state: SessionState) -> float | None:
        """Return when a `TimePassed` next changes something, or None."""
        return t.next_due(state)

    def next_reminder(self, state: SessionState) -> float | None:
        """Return when a `TimePassed` next tells an unanswered maximum again, or None."""
        return t.next_reminder(state)

    # -- the one function ------------------------------------------------------------------------

    def step(self, state: SessionState, event: e.Event) -> Turn:
        """Return the state after `event`, and what to do. Raises IllegalEvent."""
        if not (isfinite(event.at) and event.at >= state.now):
            raise IllegalEvent(event, state, (f"{state.now:g} s or later",))
        before = state
        state, rung = self._clock(before, event.at)
        counts = isinstance(event, e.CueGiven) and self._counts(state, event.cue)
        if not (counts or self._legal(before, event)):
            raise IllegalEvent(event, before, self._allowed(before))
        match event:
            case e.Started():
                state = replace(state, mode=next_mode(state.mode, "start"))
                after, effects = self._voice.arrive(state, None)
            case e.CueGiven():
                # The clock came first: what lapsed or spoiled meanwhile no longer takes this cue.
                if counts:
                    after, effects = self._cue(state, event)
                else:
                    late = Refuse(event.cue, "too late")
                    after, effects = state, (Chime(ChimeKind.REFUSED), late)
            case e.Restarted():
                after, effects = self._restart(state)
            case e.DeviceLost():
                after, effects = self._voice.device_lost(state, event.device)
            case e.DeviceBack():
                after, effects = self._voice.device_back(state, event.device)
            case e.TimePassed() | e.HearingRefused():
                after, effects = state, ()
        return after, (*rung, *effects)

    def _legal(self, before: SessionState, event: e.Event) -> bool:
        """Judge `event`; a cue that counts once the clock is put forward to it is legal too."""
        if isinstance(event, e.CueGiven):
            return self._counts(before, event.cue)
        if isinstance(event, e.Started):
            return before.mode is Mode.READY
        if isinstance(event, e.Restarted):
            return before.live
        return before.mode is not Mode.READY

    def _counts(self, state: SessionState, cue: str) -> bool:
        return any(each.id == cue for each in self.cues_now(state))

    def _allowed(self, state: SessionState) -> tuple[str, ...]:
        if state.mode is Mode.READY:
            return ("started",)
        return tuple(cue.id for cue in self.cues_now(state))

    # -- the clock -------------------------------------------------------------------------------

    def _clock(self, state: SessionState, at: float) -> Turn:
        """Ring what is due by `at`, in order of time; let an unanswered question lapse."""
        before = state
        effects: list[Effect] = []
        while (due := self.next_deadline(state)) is not None and due <= at:
            first, asked = t.first_ring(state.timers), state.question
            if first is None or (asked is not None and asked.lapses <= due):
                state, said = self._voice.says(replace(state, question=None), "lapsed")
            else:
                now = max(due, state.now)  # a timer that undo brought back may be past its end
                state, said = self._ring(replace(state, now=now), first.timer, first.ring)
            effects += said
        late = tuple(each for each in t.reminded(before, at) if each in state.timers)
        state = state if state.now == at else replace(state, now=at)
        return state, (*effects, *self._voice.remind(state, late))

    def _ring(self, state: SessionState, timer: RunningTimer, ring: t.Ring) -> Turn:
        marked = t.rung(timer, ring)
        swap = tuple(marked if each is timer else each for each in state.timers)
        state = replace(state, timers=swap)
        chime = Chime(ChimeKind.DUE)
        if ring is t.Ring.OVER and timer.spec.kind in t.ALARMING:
            alarm = timer.spec.overdue_say or self._prompts.ring(timer, ring, state.now)
            after, said = self._spoil(state, timer, alarm)
            return after, (chime, Say(alarm, Urgency.ALARM), *said)
        if ring is t.Ring.OVER:
            state = t.with_ended(state, frozenset({timer.spec.name}))
        if state.mode is Mode.EMERGENCY:  # the procedure's own prompts are silent in it
            return state, ()
        if t.pressing(state):  # words now would deafen us to the cue that is awaited
            return state, (chime,)
        return state, (chime, Say(self._prompts.ring(marked, ring, state.now)))

    def _spoil(self, state: SessionState, timer: RunningTimer, alarm: str) -> Turn:
        """A maximum has passed: what it guarded is lost, and so is a question asked before."""
        spec, here = timer.spec, state.step
        said: tuple[Effect, ...] = ()
        if spec.overdue_back_to is not None:
            state = t.with_ended(state, frozenset({spec.name}))
            state = self._go_back(state, spec.overdue_back_to, spec.overdue_voids)
        elif spec.overdue_voids:
            state = without(state, spec.overdue_voids)
        if state.mode is Mode.EMERGENCY:
            return state, ()
        state = replace(state, last_said=alarm)
        if state.step != here and state.mode is Mode.RUNNING:
            state, said = self._voice.arrive(state, None)
            state = replace(state, last_said=f"{alarm} {state.last_said}")
        return state, said

    # -- cues ------------------------------------------------------------------------------------

    def _cue(self, state: SessionState, event: e.CueGiven) -> Turn:
        cue = event.cue
        if cue in self._emergencies:
            return self._alarm(state, self._emergencies[cue])
        if state.question is not None and cue not in ("repeat", "quiet"):
            return self._answer(state, state.question, cue)
        said = self._values.said(cue)
        if said is not None:
            return self._ask_value(state, said, cue)
        if cue in self._happenings:
            happening = self._happenings[cue]
            say = self._prompts.text("ask-happening", prompt=happening.say)
            return self._voice.ask(state, Asking.HAPPENING, cue, cue, say)
        if cue in self._by_cue:
            step, part = self._by_cue[cue]
            if step.id != state.step:
                return self._jump(state, step, cue)
            own = step.begin if part == "begin" else step.done
            if own is not None and own.tier is Tier.GUARDED:
                return self._ask_step(state, step, part, cue)
            return self._act(state, step, part, cue)
        return self._general(state, cue)

    def _general(self, state: SessionState, cue: str) -> Turn:
        if cue in FREE:
            return state, self._teller.answer(state, cue)
        match cue:
            case "quiet":
                return state, (Silence(),)
            case "undo":
                return self._undo(state)
            case "skip":
                return self._ask_skip(state)
            case "strike" if (last := self._values.last_struck(state)) is not None:
                say = self._values.strike_asked(last)
                return self._voice.ask(state, Asking.STRIKE, last.slot, cue, say)
            case "pause":
                paused = replace(state, mode=next_mode(state.mode, "pause"))
                after_pause, said = self._voice.says(paused, "paused")
                return after_pause, (Silence(), *said)
            case "resume":
                running = replace(state, mode=next_mode(state.mode, "resume"))
                return self._voice.says(running, "resumed", prompt=self._voice.prompt(running))
            case "emergency-over":
                say, over = self._prompts.text("ask-emergency-over"), state.emergency or ""
                return self._voice.ask(state, Asking.EMERGENCY_OVER, over, cue, say)
        raise AssertionError(f"cue {cue!r} is active and nothing answers it")

    # -- steps -----------------------------------------------------------------------------------

    def _act(
        self, state: SessionState, step: Step, part: Part, cue: str,
        before: SessionState | None = None,
    ) -> Turn:  # fmt: skip
        """Begin or end `step`; `before` is where an undo leads, when that is not `state`."""
        hold = self._holds.acting(state, step, part)
        if hold is not None:
            return self._voice.refuse(state, cue, hold)
        place, under_way = self._route.move(step.id, state.under_way, part, hold)
        before, again = before or state, state.standing == step.id
        state = t.with_ended(state, self._holds.ended_by(step, part))
        if part == entry_part(step):
            state = t.with_started(state, step, again)
        gained = step.begin_establishes if part == "begin" else step.establishes
        voided = step.begin_voids if part == "begin" else step.voids
        state = replace(
            state,
            facts=state.facts.difference(voided).union(gained),
            under_way=under_way,
        )
        ended = tuple(timer for timer in before.timers if timer not in state.timers)
        state = remembered(state, before, ended)
        if part == "begin":
            return state, (Chime(ChimeKind.HEARD),)
        state = replace(state, done=(*state.done, step.id))
        return self._go_on(state, place, step)

    def _ask_step(self, state: SessionState, step: Step, part: Part, cue: str) -> Turn:
        """A step that a slip must not end (the patient leaves): read back first."""
        hold = self._holds.acting(state, step, part)
        say = self._prompts.text("ask-happening", prompt=step.say)
        return self._voice.ask(state, Asking.STEP, step.id, cue, say, hold)

    def _go_on(self, state: SessionState, place: str, left: Step, *said: Effect) -> Turn:
        """Arrive at `place` after `left`, or finish when it was the last step."""
        heard = Chime(ChimeKind.HEARD)
        if place != END:
            after, effects = self._voice.arrive(replace(state, step=place), left)
            return after, (heard, *said, *effects)
        running = frozenset(timer.spec.name for timer in state.timers)
        state = replace(t.with_ended(state, running), mode=next_mode(state.mode, "finish"))
        after, effects = self._voice.says(state, "finished")
        return after, (heard, *said, *effects)

    # -- values ----------------------------------------------------------------------------------

    def _ask_value(self, state: SessionState, said: Said, cue: str) -> Turn:
        """Read a value back; one that disagrees with the plan is refused, and changes nothing."""
        if said.value is None:
            why, cautions = self._values.disagreement(said.slot)
            return self._voice.refuse(state, cue, Hold(why), *cautions)
        say = self._values.question_of(said.value)
        return self._voice.ask(state, Asking.VALUE, said.slot.id, cue, say)

    def _record(self, state: SessionState, said: Said, cue: str) -> Turn:
        """Keep a confirmed value; a step that asked for it alone is done with it."""
        before, state = state, self._values.with_value(state, said)
        told = self._values.told(state, said)
        step = self.plan.steps[self.plan.step_index[state.step]]
        if self._values.settled(state, step) and self._holds.acting(state, step, "done") is None:
            return self._act(state, step, "done", cue, before)
        state = replace(state, last_said=" ".join(each.text for each in told))
        return entered(state, before), (Chime(ChimeKind.HEARD), *told)

    # -- leaving the path ------------------------------------------------------------------------

    def _jump(self, state: SessionState, target: Step, cue: str) -> Turn:
        """A later step's cue: refused with its reason, or a confirmed and reasoned jump."""
        here, there = self.plan.step_index[state.step], self.plan.step_index[target.id]
        hold = self._holds.acting(state, target, entry_part(target))
        hold = hold or self._holds.leaving_out(state, there)
        say = self._prompts.text("ask-jump", count=str(there - here))
        return self._voice.ask(state, Asking.JUMP, target.id, cue, say, hold)

    def _ask_skip(self, state: SessionState) -> Turn:
        here = self.plan.step_index[state.step]
        hold = self._holds.leaving_out(state, here + 1)
        say = self._prompts.text("ask-skip", step=short_name(state.step))
        return self._voice.ask(state, Asking.SKIP, state.step, "skip", say, hold)

    def _answer(self, state: SessionState, question: Question, cue: str) -> Turn:
        state = replace(state, question=None)
        if cue == "pause" and state.mode is Mode.RUNNING:
            return self._general(state, "pause")
        said = self._values.said(cue)
        if said is not None:  # another value of the slot that was read back
            return self._ask_value(state, said, cue)
        asked = self._values.said(question.cue)
        if cue == "confirm" and asked is not None:
            return self._record(state, asked, question.cue)
        if cue == "confirm" and question.about is Asking.STRIKE:
            after, effects = self._values.struck(state)
            return entered(after, state), (Chime(ChimeKind.HEARD), *effects)
        if cue in self._skip_reasons:
            return self._leave_out(state, question, cue)
        if cue == "confirm" and question.about is Asking.STEP:
            return self._act(state, *self._by_cue[question.cue], question.cue)
        if cue == "confirm" and question.about is Asking.HAPPENING:
            return self._happen(state, self._happenings[question.target])
        if cue == "confirm" and question.about is Asking.EMERGENCY_OVER:
            state = replace(state, mode=next_mode(state.mode, "over"), emergency=None)
            return self._voice.says(state, "emergency-over")
        return self._voice.says(state, "denied")

    def _leave_out(self, state: SessionState, question: Question, reason: str) -> Turn:
        """Leave out the current step, or every step up to the target, each visible to the end."""
        before, index = state, self.plan.step_index
        here = index[state.step]
        beyond = here + 1 if question.about is Asking.SKIP else index[question.target]
        place = state.step
        for step in self.plan.steps[here:beyond]:
            place, _ = self._route.move(step.id, False, "skip")
            state = replace(state, skips=(*state.skips, Skip(step.id, reason)))
        state = remembered(state, before)
        said = Say(self._prompts.text("skipped", step=short_name(before.step)))
        # What a step left out would have handed or warned of was never said: the last said counts.
        return self._go_on(state, place, self.plan.steps[here], said)

    def _happen(self, state: SessionState, happening: Happening) -> Turn:
        state = self._go_back(state, happening.back_to, happening.voids)
        after, effects = self._voice.arrive(state, None)
        return after, (Chime(ChimeKind.HEARD), *effects)

    def _go_back(self, state: SessionState, step: str, voids: tuple[str, ...]) -> SessionState:
        """Void facts and return to `step`, unless the session has not come so far."""
        index = self.plan.step_index
        if index[step] <= index[state.step]:
            left = self.plan.steps[index[state.step]]
            place, _ = self._route.move(state.step, state.under_way, f"back-to:{step}")
            if state.under_way or state.standing == left.id:  # begun, if only by what stands
                state = t.with_ended(state, self._holds.ends_with(left))
            state = replace(state, step=place, under_way=False)
        return without(state, voids)

    def _undo(self, state: SessionState) -> Turn:
        if not state.history:
            return self._voice.says(state, "nothing-to-undo")
        before = state
        state, stands = taken_back(self.plan, state)
        told, name = self._values.undone(before, state), short_name(state.step)
        if stands is not None:
            fact = self.plan.fact_by_id[stands].text
            told += f" {self._prompts.text('undone-physical', step=name, fact=fact)}"
        elif not told or state.step != before.step:
            told += f" {self._prompts.text('undone', step=name)}"
        return self._voice.tell(state, told.strip())

    def _alarm(self, state: SessionState, emergency: Emergency) -> Turn:
        """Stop the prompts and say the emergency's lines, from anywhere."""
        mode = next_mode(state.mode, "alarm")
        state = replace(state, mode=mode, emergency=emergency.id, question=None)
        return self._voice.alarm(state, emergency.says)

    def _restart(self, state: SessionState) -> Turn:
        """The program came back: nobody asks any more, and what holds now is said again."""
        state = replace(state, question=None)
        if state.mode is Mode.EMERGENCY:
            return state, self._teller.again(state)
        return self._voice.restarted(state)
