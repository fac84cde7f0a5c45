"""What may be said now: the cues of one state.

A later step's cue is listened for too, as a guarded one: it can only be refused with its reason
or ask for a confirmed jump. Listening for all of them would make every cue easier to mistake, so
only the next few are active, and those whose facts an interlock guards.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from dataclasses import replace

from sidecue.procedure.plan import Cue, Plan, Tier
from sidecue.session.advising import Advising
from sidecue.session.state import Asking, Mode, Question, SessionState
from sidecue.session.telling import FREE
from sidecue.session.values import Values, is_value

#: How many steps ahead a cue is understood (to be refused or confirmed, never to act alone).
LOOK_AHEAD = 2

ALWAYS = frozenset({"quiet"})


class Listening:
    """The cues of every state of one plan."""

    def __init__(self, plan: Plan, values: Values) -> None:
        self._plan = plan
        self._values = values
        self._advising = Advising(plan)
        self._alarms = tuple(emergency.cue for emergency in plan.emergencies)
        self._watched = watched(plan)
        self._guarded = tuple(  # a later step's cue only asks
            replace(step.begin or step.done, tier=Tier.GUARDED) for step in plan.steps
        )
        self._worked_out: dict[Hashable, tuple[Cue, ...]] = {}
        self._last: tuple[SessionState, tuple[Cue, ...]] | None = None

    def now(self, state: SessionState) -> tuple[Cue, ...]:
        """Return the cues that count in `state`, each phrase once, the current step's first."""
        if not state.live:
            return ()
        last = self._last  # read once: another thread may look meanwhile
        if last is not None and last[0] is state:  # a state never changes, and is asked about often
            return last[1]
        cues = self._now(state)
        self._last = state, cues
        return cues

    def _now(self, state: SessionState) -> tuple[Cue, ...]:
        asked = state.question
        happenings = tuple(
            happening.cue
            for happening in self._plan.happenings
            if state.facts.intersection(happening.while_any)
            and not state.facts.intersection(happening.unless)
        )
        situation = (  # all that is read here: asked many times in one situation, worked out once
            state.mode, state.step, state.under_way,
            None if asked is None else (asked.about, asked.target, asked.cue),
            tuple(cue.id for cue in happenings),
            self._values.last_struck(state) is not None,
            self._advising.due(state),
        )  # fmt: skip
        cues = self._worked_out.get(situation)
        if cues is None:
            cues = self._worked_out[situation] = self._cues(state, happenings)
        return cues

    def _cues(self, state: SessionState, happenings: tuple[Cue, ...]) -> tuple[Cue, ...]:
        if state.question is not None:
            return _once((*self._answers(state, state.question), *self._alarms))
        free = FREE | ALWAYS if self._advising.due(state) else (FREE | ALWAYS) - {"advice"}
        if state.mode is Mode.EMERGENCY:
            general = self._chosen(free | {"emergency-over"})
            return _once((*general, *self._alarms))
        if state.mode is Mode.PAUSED:
            return _once((*self._chosen(free | {"resume"}), *self._alarms))
        general = self._chosen(free | {"undo", "skip", "pause"})
        own, ahead = self._own(state), self._ahead(state)
        values = self._values.cues(state)
        return _once((*own, *general, *happenings, *self._alarms, *values, *ahead))

    def _answers(self, state: SessionState, question: Question) -> tuple[Cue, ...]:
        reasoned = question.about in (Asking.SKIP, Asking.JUMP)
        yes = self._plan.skip_reasons if reasoned else self._chosen({"confirm"})
        pause = {"pause"} if state.mode is Mode.RUNNING else set()
        others = self._values.instead(question) if is_value(question) else ()
        return (*yes, *self._chosen(ALWAYS | {"deny", "repeat"} | pause), *others)

    def _own(self, state: SessionState) -> tuple[Cue, ...]:
        step = self._plan.steps[self._plan.step_index[state.step]]
        if step.begin is None or state.under_way:
            return (step.done,)
        return (step.begin, step.done)

    def _ahead(self, state: SessionState) -> tuple[Cue, ...]:
        here = self._plan.step_index[state.step]
        numbers = ahead_of(here, self._watched, len(self._plan.steps))
        return tuple(self._guarded[number] for number in numbers)

    def _chosen(self, ids: Iterable[str]) -> tuple[Cue, ...]:
        wanted = frozenset(ids)
        return tuple(cue for cue in self._plan.cues if cue.id in wanted)


def watched(plan: Plan) -> tuple[int, ...]:
    """Return the numbers of the steps whose cues are listened for from anywhere before them."""
    guarded = {rule.act for rule in plan.rules if rule.act is not None}
    return tuple(
        number
        for number, step in enumerate(plan.steps)
        if guarded.intersection((*step.establishes, *step.begin_establishes))
    )


def ahead_of(here: int, watched: Iterable[int], steps: int) -> tuple[int, ...]:
    """Return the numbers of the later steps whose cues are listened for at step `here` of so many
    `steps`."""
    near = range(here + 1, min(here + 1 + LOOK_AHEAD, steps))
    return (*near, *(number for number in watched if number > here + LOOK_AHEAD))


def _once(cues: tuple[Cue, ...]) -> tuple[Cue, ...]:
    """Drop phrases that an earlier cue has, and cues left without any."""
    taken: set[str] = set()
    kept: list[Cue] = []
    for cue in cues:
        phrases = tuple(phrase for phrase in cue.phrases if phrase not in taken)
        if phrases:
            taken.update(phrases)
            kept.append(cue if phrases == cue.phrases else replace(cue, phrases=phrases))
    return tuple(kept)
