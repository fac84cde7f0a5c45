"""Why a step may not begin, complete or be left out: needs, interlocks and timers, in words."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from sidecue.procedure.interlocks import violations
from sidecue.procedure.plan import Plan, Rule, Step, TimerKind
from sidecue.session.prompts import Prompter
from sidecue.session.state import RunningTimer, SessionState
from sidecue.session.timers import TOLERANCE, held_for, stopped_elsewhere

Part = Literal["begin", "done"]


@dataclass(frozen=True, slots=True)
class Hold:
    """A reason to refuse, as it is said, and the interlock behind it if there is one."""

    why: str
    rule: str = ""


def entry_part(step: Step) -> Part:
    """Return the part of `step` at which it is entered: its needs count and its timers start."""
    return "done" if step.begin is None else "begin"


def _parts(step: Step) -> tuple[Part, ...]:
    return ("done",) if step.begin is None else ("begin", "done")


def _spoils(timer: RunningTimer) -> bool:
    """Whether `timer` still counts down to where the procedure goes back."""
    return timer.spec.overdue_back_to is not None and not timer.overdue


def _touching(rules: Iterable[Rule], step: Step) -> tuple[Rule, ...]:
    """Return the rules that anything `step` establishes can break."""
    gained = frozenset((*step.begin_establishes, *step.establishes))
    return tuple(rule for rule in rules if rule.act in gained or not gained.isdisjoint(rule.never))


class Holds:
    """The holds of one plan."""

    def __init__(self, plan: Plan, prompts: Prompter) -> None:
        self._plan = plan
        self._prompts = prompts
        self._case = dict(plan.case_facts)
        self._stopped_elsewhere = stopped_elsewhere(plan)
        self._rules: dict[str, tuple[Rule, ...]] = {}  # by step, worked out when it is asked for

    def acting(self, state: SessionState, step: Step, part: Part) -> Hold | None:
        """Return why `part` of `step` may not happen now, or None."""
        if part == "done" and step.begin is not None and not state.under_way:
            return Hold(self._prompts.text("begin-first", step=step.begin.phrases[0]))
        again = state.standing == step.id  # undo took back the word, not the act: not judged twice
        broken = self._broken(state.facts, step, part, state.facts if again else frozenset())
        if broken is not None:
            return Hold(broken.say, broken.id)
        if part == entry_part(step) and not again:
            missing = [fact for fact in step.needs if fact not in state.facts]
            if missing:
                return Hold(self._prompts.text("missing", fact=self._fact(missing[0])))
        wait = self._longest(state, self.ended_by(step, part))
        return Hold(self._prompts.wait(wait)) if wait else None

    def _broken(
        self, facts: frozenset[str], step: Step, part: Part, held: frozenset[str] = frozenset()
    ) -> Rule | None:
        """Return the first interlock that `part` of `step` would break, gaining what is not `held`.

        At its beginning a step answers for all it will establish, or it could not be finished.
        """
        rules, case = self._rules.get(step.id), self._case
        if rules is None:
            rules = self._rules[step.id] = _touching(self._plan.rules, step)
        broken: tuple[Rule, ...] = ()
        if part == "begin":
            gained = frozenset(step.begin_establishes) - held
            broken = violations(rules, facts, gained, case, step.begin_voids)
            facts = facts.difference(step.begin_voids).union(step.begin_establishes)
        gained = frozenset(step.establishes) - held
        broken = broken or violations(rules, facts, gained, case, step.voids)
        return broken[0] if broken else None

    def leaving_out(self, state: SessionState, beyond: int) -> Hold | None:
        """Return why the steps from here up to number `beyond` may not be left out, or None.

        They may when every step after them can still be done, in order, with what holds now.
        """
        here = self._plan.steps[self._plan.step_index[state.step]]
        # A begun part that undo could not take back (the light is on) is under way all the same.
        if state.under_way or (state.standing == here.id and here.begin is not None):
            return Hold(self._prompts.text("cannot-skip-begun"))
        left_out = self._plan.steps[self._plan.step_index[here.id] : beyond]
        if any(_spoils(timer) for timer in self._ending(state, left_out)):
            return Hold(self._prompts.text("cannot-skip-begun"))  # what is mixed cannot wait
        wait = self._waiting(state, left_out)
        if wait:  # leaving out the step that waits for a minimum does not make it shorter
            return Hold(self._prompts.wait(wait))
        facts = state.facts
        for step in self._plan.steps[beyond:]:
            missing = next((fact for fact in step.needs if fact not in facts), None)
            broken = self._broken(facts, step, entry_part(step))
            if broken is not None and missing is None:
                missing = next((fact for fact in broken.needs if fact not in facts), None)
            if missing is not None:
                why = self._prompts.text("cannot-skip", fact=self._fact(missing))
                return Hold(why, "" if broken is None else broken.id)
            if broken is not None:
                return Hold(broken.say, broken.id)
            facts = facts.difference(step.begin_voids).union(step.begin_establishes)
            facts = facts.difference(step.voids).union(step.establishes)
        return None

    def _waiting(self, state: SessionState, steps: Iterable[Step]) -> float:
        """Return how long the timers still hold that these steps would have ended."""
        waits = (held_for(timer, state.now) for timer in self._ending(state, steps))
        return max(waits, default=0.0)

    def _ending(self, state: SessionState, steps: Iterable[Step]) -> tuple[RunningTimer, ...]:
        """Return the running timers that these steps would end."""
        if not state.timers:
            return ()
        names = {n for step in steps for part in _parts(step) for n in self.ended_by(step, part)}
        return tuple(timer for timer in state.timers if timer.spec.name in names)

    def _longest(self, state: SessionState, ending: frozenset[str]) -> float:
        """Return how long the timers `ending` still hold; 0 where waiting would spoil one of them.

        Acid that reaches its most on dentine comes off, even when enamel wanted it longer.
        """
        timers = [timer for timer in state.timers if timer.spec.name in ending]
        wait = max((held_for(timer, state.now) for timer in timers), default=0.0)
        ends = (
            timer.started + timer.spec.most
            for timer in timers
            if timer.spec.kind is TimerKind.HARD_MAXIMUM and timer.spec.most is not None
        )
        return 0.0 if any(state.now + wait > end + TOLERANCE for end in ends) else wait

    def ended_by(self, step: Step, part: Part) -> frozenset[str]:
        """Return the names of the timers that end when `part` of `step` happens."""
        names: set[str] = set()
        if part == entry_part(step):
            names.update(step.stops)
        if part == "done":
            names.update(step.done_stops)
            names.update(self.ends_with(step))
        return frozenset(names)

    def ends_with(self, step: Step) -> frozenset[str]:
        """Return the names of the timers of `step` that no later step stops: they are its own.

        A count-down tells the time beyond its step.
        """
        if step.begin is None:
            return frozenset()
        own = {each.name for each in step.timers if each.kind is not TimerKind.COUNT_DOWN}
        return frozenset(own - self._stopped_elsewhere)

    def _fact(self, fact: str) -> str:
        return self._plan.fact_by_id[fact].text
