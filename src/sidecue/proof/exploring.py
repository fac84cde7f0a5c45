"""Exploration of one plan by itself: every state its machine can reach, breadth first.

This is the plain way, kept as the measure of the faster one (`family`), which shares what is
alike between states and between plans: both must find the same states and the same faults.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from time import perf_counter

from sidecue.procedure.plan import Cue, Plan, Rule
from sidecue.proof.abstraction import Form
from sidecue.proof.moves import Cues, Move, place_of
from sidecue.proof.properties import Broken
from sidecue.proof.reaching import dead_ends
from sidecue.proof.trying import Outcome, Trier
from sidecue.session.state import Mode, SessionState


@dataclass(frozen=True, slots=True)
class Violation:
    """A property broken, and a shortest way there: what happens, one thing after another."""

    broken: Broken
    way: tuple[Move, ...]


@dataclass
class Exploration:
    """What one plan's exploration came to. `transitions`: what can happen, over all states;
    `tried`: on the machine itself, the rest being known from a state alike."""

    states: int = 0
    transitions: int = 0
    tried: int = 0
    seconds: float = 0.0
    violations: list[Violation] = field(default_factory=list)

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
        self._trier = Trier(plan, plan.rules if rules is None else rules)
        self._plan = self._trier.plan
        self._abstraction = self._trier.abstraction
        self._every = every
        self._ahead = {
            cue.id: number
            for number, step in enumerate(self._plan.steps)
            for cue in (step.begin, step.done)
            if cue is not None
        }
        self._refused: set[Form] = set()
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

    def explore(
        self, most_violations: int = 20, wanted: frozenset[Broken] | None = None
    ) -> Exploration:
        """Walk every reachable state; stop early at so many different violations, or once all that
        is `wanted` is found."""
        began = perf_counter()
        self._reach(self._trier.started(), -1, ())
        while self._open and len(self._found) < most_violations:
            if wanted is not None and wanted <= self._found.keys():
                break
            self._expand(self._open.popleft())
        if not self._open:
            self._judge_whole()
        return Exploration(
            states=len(self._states),
            transitions=self._transitions,
            tried=self._transitions,
            seconds=perf_counter() - began,
            violations=list(self._found.values()),
        )

    @property
    def forms(self) -> frozenset[Form]:
        """The forms of all states reached."""
        return frozenset(self._index)

    # -- one state -------------------------------------------------------------------------------

    def _expand(self, number: int) -> None:
        state = self._states[number]
        if not state.live:
            return
        cues = self._trier.cues(state)
        for each in self._trier.wrong(state):
            self._break(each, number, ())
        tried = [cue for cue in cues.acting if self._every or not self._known_refusal(state, cue)]
        for outcome in self._trier.acting(state, tried):
            self._take(number, state, outcome)
        self._tell_aside(number, state, cues)

    def _tell_aside(self, number: int, state: SessionState, cues: Cues) -> None:
        beside = self._abstraction.form_of(replace(state, mode=Mode.PAUSED, question=None))
        if state.mode is Mode.RUNNING and state.question is None and beside not in self._beside:
            self._beside.add(beside)
            for outcome in self._trier.leaving(state, cues):
                self._take(number, state, outcome)
        place = place_of(state)
        if place not in self._places or self._every:
            self._places.add(place)
            for outcome in self._trier.aside(state, cues):
                self._take(number, state, outcome)
        sounding = (state.step, state.mode)
        if sounding not in self._places or self._every:
            self._places.add(sounding)
            for outcome in self._trier.alarms(state, cues):
                self._take(number, state, outcome)

    def _take(self, number: int, state: SessionState, outcome: Outcome) -> None:
        self._transitions += 1
        for broken in outcome.broken:
            self._break(broken, number, outcome.moves)
        cue = outcome.moves[0].cue
        if outcome.refused and cue is not None and cue.id in self._ahead:
            self._refused.add(self._refusal(state, cue.id))
        if outcome.done:
            self._done.add(state.step)
        self._reach(outcome.after, number, outcome.moves)

    def _known_refusal(self, state: SessionState, cue: Cue) -> bool:
        """Whether a later step's cue was refused before with everything its refusal reads."""
        target = self._ahead.get(cue.id)
        if target is None or state.question is not None or state.mode is not Mode.RUNNING:
            return False
        if target <= self._plan.step_index[state.step]:
            return False
        return self._refusal(state, cue.id) in self._refused

    def _refusal(self, state: SessionState, cue: str) -> Form:
        begun = state.under_way or state.standing is not None
        timers = tuple((t.spec.name, t.ripe, t.overdue) for t in state.timers)
        facts = state.facts & self._abstraction.read_from(self._ahead[cue])
        return (cue, begun, (begun or timers) and state.step, timers, facts)

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

    def _judge_whole(self) -> None:
        """Find states from which the procedure cannot be finished any more, and steps that can
        be left out at most."""
        ends = [n for n, state in enumerate(self._states) if state.mode is Mode.FINISHED]
        for stuck in dead_ends(self._next, ends):
            what = f"from step {self._states[stuck].step!r} the procedure can never be finished"
            self._break(Broken("no dead end", what), stuck, ())
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
