"""Everything that can happen in one state: tried on the real machine, and judged."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from transitions import MachineError

from sidecue.procedure.plan import Cue, Plan, Rule
from sidecue.proof.abstraction import INSTANT, NOW, Abstraction, unwarned
from sidecue.proof.laws import beside
from sidecue.proof.moves import (
    RESTART,
    Cues,
    Kind,
    Move,
    Sorting,
    Trial,
    aside_trials,
    cue_trial,
    time_trials,
)
from sidecue.proof.properties import Broken, Properties, Transition
from sidecue.session.events import CueGiven, Restarted, Started, TimePassed
from sidecue.session.illegal import IllegalEvent
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode, SessionState
from sidecue.session.timers import Ring
from sidecue.session.values import fewer_values

_UNDO_CUE = "undo"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of one trial: the state after `moves`, and what it broke."""

    moves: tuple[Move, ...]
    after: SessionState
    broken: tuple[Broken, ...]
    refused: bool
    done: bool  # the current step was done with it


class Trier:
    """Tries the events of one plan. `rules` are the interlocks it is held to."""

    def __init__(
        self, plan: Plan, rules: Iterable[Rule], abstraction: Abstraction | None = None
    ) -> None:
        held_to = tuple(rules)
        self.plan = fewer_values(plan) if abstraction is None else abstraction.plan
        self.machine = SessionMachine(self.plan)
        self.abstraction = abstraction or Abstraction(self.plan, (*held_to, *beside(self.plan)))
        self._properties = Properties(self.plan, held_to, self.abstraction)
        self._sorting = Sorting(self.plan)
        self._divided: dict[int, tuple[tuple[Cue, ...], str, Cues]] = {}
        self.reasons = frozenset(cue.id for cue in plan.skip_reasons)
        self._undo = next(cue for cue in plan.cues if cue.id == _UNDO_CUE)

    def started(self) -> SessionState:
        """Return the state right after the start."""
        return self.machine.step(self.machine.first(), Started(NOW))[0]

    def cues(self, state: SessionState) -> Cues:
        """Return the cues of `state`, divided."""
        cues = self.machine.cues_now(state)
        known = self._divided.get(id(cues))  # one situation has one tuple: see `session.listening`
        if known is None or known[0] is not cues or known[1] != state.step:
            known = self._divided[id(cues)] = (
                cues, state.step, self._sorting.divided(state, cues)
            )  # fmt: skip
        return known[2]

    def wrong(self, state: SessionState) -> tuple[Broken, ...]:
        """Return what is wrong with `state` as it stands."""
        return tuple(self._properties.of_state(state, self.machine.cues_now(state)))

    def acting(self, state: SessionState, cues: Iterable[Cue]) -> Iterator[Outcome]:
        """Try the `cues` that can change the work, and whatever the clock can do."""
        yield from self.given(state, cues)
        for trial in time_trials(state):
            yield from self.tried(trial)

    def given(self, state: SessionState, cues: Iterable[Cue]) -> Iterator[Outcome]:
        """Try `cues`."""
        for cue in cues:
            yield from self.tried(cue_trial(state, cue))

    def leaving(self, state: SessionState, cues: Cues) -> Iterator[Outcome]:
        """Try a pause and an emergency."""
        for cue in cues.leaving:
            yield from self.tried(cue_trial(state, cue))

    def aside(self, state: SessionState, cues: Cues) -> Iterator[Outcome]:
        """Try what leaves the work as it is, and reads neither facts nor timers."""
        yield from self.tried(Trial(RESTART, state, Restarted(NOW)))
        for cue in cues.aside:
            if cue.id in self.reasons:
                yield from self._as_followed(state, cues, cue)
            else:
                yield from self.tried(cue_trial(state, cue))
        for trial in aside_trials(self.machine, self.abstraction, state, cues.acting):
            yield from self.tried(trial)

    def alarms(self, state: SessionState, cues: Cues) -> Iterator[Outcome]:
        """Try every emergency."""
        for cue in cues.alarms:
            yield from self.tried(cue_trial(state, cue))

    def _as_followed(self, state: SessionState, cues: Cues, reason: Cue) -> Iterator[Outcome]:
        """Try a skip reason that is not followed everywhere: it must lead to what the one that is
        followed leads to."""
        one = next(cue for cue in cues.acting if cue.id in self.reasons)
        form_of = self.abstraction.form_of
        followed = {form_of(each.after) for each in self.tried(cue_trial(state, one))}
        for outcome in self.tried(cue_trial(state, reason)):
            if form_of(outcome.after) not in followed:
                unlike = Broken("skip reasons are alike", f"{reason.id} leads elsewhere")
                yield replace(outcome, broken=(*outcome.broken, unlike))
            else:
                yield outcome

    def tried(self, trial: Trial) -> Iterator[Outcome]:
        """Yield the outcome of `trial`, and those of what can only follow it at once: the warning
        of a timer it started, and its undo (see `abstraction` on why no more is needed)."""
        try:
            after, effects = self.machine.step(trial.state, trial.event)
        except (IllegalEvent, MachineError, ValueError, LookupError, AssertionError) as error:
            failed = Broken("the machine answers", f"{trial.move.told()}: {error}")
            yield Outcome((trial.move,), trial.state, (failed,), refused=True, done=False)
            return
        seen = Transition(trial.state, trial.move, after, effects)
        done = seen.acted and not after.under_way
        broken = tuple(self._properties.of_transition(seen))
        yield Outcome((trial.move,), after, broken, seen.refused, done)
        if seen.acted:
            yield from self._warned(trial, after)
        if after.history and after.mode is Mode.RUNNING and trial.move.kind is Kind.CUE:
            yield self._taken_back(trial, after)

    def _warned(self, trial: Trial, acted: SessionState) -> Iterator[Outcome]:
        """Ring the warning of each timer that an act started."""
        fresh = {each.spec.name for each in acted.timers if each.started == acted.now}
        if not fresh:
            return
        form = self.abstraction.standing_form(acted)
        for timer in form.timers:
            if timer.spec.name not in fresh or timer.spec.warn is None:
                continue
            move = Move(Kind.RING, timer=timer.spec.name, ring=Ring.WARN)
            about_to = unwarned(form, timer.spec.name)
            after, effects = self.machine.step(about_to, TimePassed(NOW + 2 * INSTANT))
            seen = Transition(about_to, move, after, effects)
            broken = tuple(self._properties.of_transition(seen))
            # A warning changes nothing that a form keeps: what it leads to is where the act led.
            yield Outcome((trial.move, move), acted, broken, refused=False, done=False)

    def _taken_back(self, trial: Trial, acted: SessionState) -> Outcome:
        after, effects = self.machine.step(acted, CueGiven(acted.now, _UNDO_CUE))
        undo = Move(Kind.UNDO, self._undo)
        origin = replace(trial.state, question=None)
        seen = Transition(acted, undo, after, effects)
        broken = tuple(self._properties.of_undo(origin, seen))
        return Outcome((trial.move, undo), after, broken, refused=False, done=False)
