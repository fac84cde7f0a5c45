"""Exploration: every state the machine of one plan can reach, by breadth first."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from time import perf_counter

from sidecue.procedure.plan import Cue, Plan, Rule
from sidecue.proof.abstraction import INSTANT, NOW, Abstraction, Form, unwarned
from sidecue.proof.laws import laws
from sidecue.proof.moves import (
    RESTART,
    Kind,
    Move,
    Trial,
    aside_trials,
    cue_trial,
    sorted_cues,
    time_trials,
)
from sidecue.proof.properties import Broken, Properties, Transition
from sidecue.session.events import CueGiven, Restarted, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import Mode, SessionState
from sidecue.session.timers import Ring
from sidecue.session.values import fewer_values

_UNDO_CUE = "undo"


@dataclass(frozen=True, slots=True)
class Violation:
    """A property broken, and a shortest way there: what happens, one thing after another."""

    broken: Broken
    way: tuple[Move, ...]


@dataclass
class Exploration:
    """What one plan's exploration came to."""

    states: int = 0
    transitions: int = 0
    seconds: float = 0.0
    violations: list[Violation] = field(default_factory=list)
    forms: frozenset[Form] = frozenset()

    @property
    def sound(self) -> bool:
        """Whether nothing is broken."""
        return not self.violations


class Explorer:
    """Explores one plan. `rules` are the interlocks it is held to: the library's, not the plan's.

    With `every`, what is tried once at each place is tried in every state instead: slower, and
    the same result, which a test compares.
    """

    def __init__(
        self, plan: Plan, rules: Iterable[Rule] | None = None, every: bool = False
    ) -> None:
        self._plan = fewer_values(plan)
        self._machine = SessionMachine(self._plan)
        held_to = plan.rules if rules is None else tuple(rules)
        self._abstraction = Abstraction(self._plan, (*held_to, *laws().never))
        self._properties = Properties(self._plan, held_to, self._abstraction)
        self._every = every
        self._ahead = {
            cue.id: number
            for number, step in enumerate(self._plan.steps)
            for cue in (step.begin, step.done)
            if cue is not None
        }
        self._refused: set[Form] = set()
        self._undo = next(cue for cue in plan.cues if cue.id == _UNDO_CUE)
        self._index: dict[Form, int] = {}
        self._states: list[SessionState] = []
        self._from: list[tuple[int, tuple[Move, ...]]] = []
        self._next: list[set[int]] = []
        self._open: deque[int] = deque()
        self._places: set[Form] = set()
        self._beside: set[Form] = set()
        self._done: set[str] = set()
        self._found: dict[Broken, Violation] = {}
        self._transitions = 0

    def explore(self, most_violations: int = 20) -> Exploration:
        """Walk every reachable state; stop early at so many different violations."""
        began = perf_counter()
        first, _ = self._machine.step(self._machine.first(), Started(NOW))
        self._reach(first, -1, ())
        while self._open and len(self._found) < most_violations:
            self._expand(self._open.popleft())
        if not self._open:
            self._dead_ends()
            self._steps_never_done()
        return Exploration(
            states=len(self._states),
            transitions=self._transitions,
            seconds=perf_counter() - began,
            violations=list(self._found.values()),
            forms=frozenset(self._index),
        )

    # -- one state -------------------------------------------------------------------------------

    def _expand(self, number: int) -> None:
        state = self._states[number]
        if not state.live:
            return
        cues = self._machine.cues_now(state)
        for broken in self._properties.of_state(state, cues):
            self._break(broken, number, ())
        for trial in self._trials(state, cues):
            self._try(number, trial)

    def _trials(self, state: SessionState, cues: tuple[Cue, ...]) -> Iterator[Trial]:
        sorted_ = sorted_cues(self._plan, state, cues)
        for cue in sorted_.acting:
            if self._every or not self._known_refusal(state, cue):
                yield cue_trial(state, cue)
        yield from time_trials(state)
        beside = self._abstraction.form_of(replace(state, mode=Mode.PAUSED, question=None))
        if state.mode is Mode.RUNNING and state.question is None and beside not in self._beside:
            self._beside.add(beside)
            yield from (cue_trial(state, cue) for cue in sorted_.leaving)
        asked = state.question
        about = None if asked is None else (asked.about, asked.target)
        place = (state.step, state.under_way, state.mode, about)
        if place not in self._places or self._every:
            self._places.add(place)
            yield Trial(RESTART, state, Restarted(NOW))
            for cue in sorted_.aside:
                yield cue_trial(state, cue)
            yield from aside_trials(self._machine, self._abstraction, state, sorted_.acting)

    def _known_refusal(self, state: SessionState, cue: Cue) -> bool:
        """Whether a later step's cue was refused before with everything its refusal reads."""
        target = self._ahead.get(cue.id)
        if target is None or state.question is not None or state.mode is not Mode.RUNNING:
            return False
        if target <= self._plan.step_index[state.step]:
            return False
        key = self._refusal(state, target)
        return key in self._refused

    def _refusal(self, state: SessionState, target: int) -> Form:
        begun = state.under_way or state.standing is not None
        timers = tuple(timer.spec.name for timer in state.timers if not timer.ripe)
        facts = state.facts & self._abstraction.read_from(target)
        return (target, begun, (begun or timers) and state.step, timers, facts)

    def _try(self, number: int, trial: Trial) -> None:
        after, effects = self._machine.step(trial.state, trial.event)
        self._transitions += 1
        done = Transition(trial.state, trial.move, after, effects)
        for broken in self._properties.of_transition(done):
            self._break(broken, number, (trial.move,))
        cue = trial.move.cue
        if done.refused and cue is not None and cue.id in self._ahead:
            self._refused.add(self._refusal(trial.state, self._ahead[cue.id]))
        self._reach(after, number, (trial.move,))
        if done.acted:
            if not after.under_way:
                self._done.add(trial.state.step)
            self._warn(number, trial, after)
        if after.history and after.mode is Mode.RUNNING and trial.move.kind is Kind.CUE:
            self._take_back(number, trial, after)

    def _warn(self, number: int, trial: Trial, acted: SessionState) -> None:
        """Ring the warning of each timer that an act started."""
        form = self._abstraction.standing_form(acted)
        fresh = {each.spec.name for each in acted.timers if each.started == acted.now}
        for timer in form.timers:
            if timer.spec.name not in fresh or timer.spec.warn is None:
                continue
            move = Move(Kind.RING, timer=timer.spec.name, ring=Ring.WARN)
            about_to = unwarned(form, timer.spec.name)
            after, effects = self._machine.step(about_to, TimePassed(NOW + 2 * INSTANT))
            self._transitions += 1
            for broken in self._properties.of_transition(
                Transition(about_to, move, after, effects)
            ):
                self._break(broken, number, (trial.move, move))

    def _take_back(self, number: int, trial: Trial, acted: SessionState) -> None:
        """Undo an act at once: see `abstraction` on why this is enough."""
        after, effects = self._machine.step(acted, CueGiven(acted.now, _UNDO_CUE))
        self._transitions += 1
        undo = Move(Kind.UNDO, self._undo)
        origin = replace(trial.state, question=None)
        for broken in self._properties.of_undo(origin, Transition(acted, undo, after, effects)):
            self._break(broken, number, (trial.move, undo))
        self._reach(after, number, (trial.move, undo))

    def _reach(self, state: SessionState, came_from: int, moves: tuple[Move, ...]) -> None:
        form = self._abstraction.form_of(state)
        number = self._index.get(form)
        if number is None:
            number = len(self._states)
            self._index[form] = number
            self._states.append(self._abstraction.standing_form(state))
            self._from.append((came_from, moves))
            self._next.append(set())
            self._open.append(number)
        if came_from >= 0:
            self._next[came_from].add(number)

    # -- the whole -------------------------------------------------------------------------------

    def _dead_ends(self) -> None:
        """Find states from which the procedure cannot be finished any more."""
        before: list[list[int]] = [[] for _ in self._states]
        for number, following in enumerate(self._next):
            for each in following:
                before[each].append(number)
        ends = [n for n, state in enumerate(self._states) if state.mode is Mode.FINISHED]
        finishing, left = set(ends), list(ends)
        while left:
            for number in before[left.pop()]:
                if number not in finishing:
                    finishing.add(number)
                    left.append(number)
        for number, state in enumerate(self._states):  # in breadth-first order: the shortest first
            if number not in finishing:
                what = f"from step {state.step!r} the procedure can never be finished"
                self._break(Broken("no dead end", what), number, ())
                return

    def _steps_never_done(self) -> None:
        """Find steps that can be left out at most."""
        for number, state in enumerate(self._states):
            if state.step not in self._done and state.live:
                self._done.add(state.step)
                self._break(Broken("every step can be done", f"{state.step!r} cannot"), number, ())

    def _break(self, broken: Broken, number: int, moves: tuple[Move, ...]) -> None:
        if broken not in self._found:
            self._found[broken] = Violation(broken, (*self._way(number), *moves))

    def _way(self, number: int) -> tuple[Move, ...]:
        way: list[tuple[Move, ...]] = []
        while number >= 0:
            number, moves = self._from[number]
            way.append(moves)
        return tuple(move for moves in reversed(way) for move in moves)


def explore(plan: Plan, rules: Iterable[Rule] | None = None, every: bool = False) -> Exploration:
    """Explore `plan`, held to `rules` (its own where none are given)."""
    return Explorer(plan, rules, every).explore()
