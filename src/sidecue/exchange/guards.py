"""When a step may be acted on or left out, as conditions: `session.holds` worked out beforehand.

Of a plan's facts most is decided by the plan itself; what is left asks the flags, the timers and
whether an undo left the step's own physical facts standing.
"""

from __future__ import annotations

from collections.abc import Iterable

from sidecue.exchange.conditions import Cond, Known, both, either, flag, unbroken
from sidecue.exchange.timer_fields import OVERDUE, STEP, field, held, not_held, off, spoils_first
from sidecue.procedure.interlocks import matches
from sidecue.procedure.plan import Plan, Step, TimerKind
from sidecue.session.holds import Holds, Part, entry_part
from sidecue.session.prompts import Prompter
from sidecue.session.timers import HOLDING


class Guards:
    """The guards of one plan."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._holds = Holds(plan, Prompter(plan))
        case = dict(plan.case_facts)
        self._rules = tuple(rule for rule in plan.rules if matches(rule.when, case))
        self._now = Known.now(plan)
        self._physical = frozenset(fact.id for fact in plan.facts if fact.physical)
        kinds = [(spec.name, spec.kind) for step in plan.steps for spec in step.timers]
        self._timers = frozenset(name for name, _ in kinds)
        self._holding = frozenset(name for name, kind in kinds if kind in HOLDING)
        self._maximum = frozenset(name for name, kind in kinds if kind is TimerKind.HARD_MAXIMUM)
        self._spoiling: dict[str, tuple[int, ...]] = {}  # timer: steps whose own leads back
        for number, step in enumerate(plan.steps):
            for spec in step.timers:
                if spec.overdue_back_to is not None:
                    self._spoiling[spec.name] = (*self._spoiling.get(spec.name, ()), number)

    # -- looking ---------------------------------------------------------------------------------

    def ended_by(self, step: Step, part: Part) -> frozenset[str]:
        """Return the names of the plan's timers that end when `part` of `step` happens."""
        return self._holds.ended_by(step, part) & self._timers

    def ends_with(self, step: Step) -> frozenset[str]:
        """Return the names of the timers of `step` that are its own."""
        return self._holds.ends_with(step)

    def physical_of(self, step: Step) -> tuple[str, ...]:
        """Return what `step` does that no word takes back."""
        gained = (*step.begin_establishes, *step.establishes)
        return tuple(fact for fact in dict.fromkeys(gained) if fact in self._physical)

    # -- acting ----------------------------------------------------------------------------------

    def acting(self, step: Step, part: Part, *, here: bool = True) -> Cond:
        """Return that `part` of `step` may happen; `here` when it is the current step.

        That a step is begun before it is done is left to the states.
        """
        fresh = self._gaining(step, part, again=False)
        if part == entry_part(step):
            fresh = both(fresh, self._now.all_of(step.needs))
        if here and self.physical_of(step):
            again = self._gaining(step, part, again=True)
            if again != fresh:
                fresh = either(both("standing == 0", fresh), both("standing == 1", again))
        return both(fresh, self._timers_let(self.ended_by(step, part)))

    def _gaining(self, step: Step, part: Part, *, again: bool) -> Cond:
        known, kept = self._now, []
        if part == "begin":
            new = self._anew(step.begin_establishes, again=again)
            kept.append(unbroken(self._rules, known, new, step.begin_voids))
            known = known.after(step.begin_voids, step.begin_establishes)
        new = self._anew(step.establishes, again=again)
        return both(*kept, unbroken(self._rules, known, new, step.voids))

    def _anew(self, facts: Iterable[str], *, again: bool) -> dict[str, Cond]:
        return {fact: f"{flag(fact)} == 0" if again else True for fact in facts}

    # -- timers ----------------------------------------------------------------------------------

    def _timers_let(self, ending: frozenset[str]) -> Cond:
        holding = sorted(ending & self._holding)
        rescued = (
            both(held(name), spoils_first(name, other))
            for name in holding
            for other in sorted(ending & self._maximum)
        )
        return either(both(*(not_held(name) for name in holding)), *rescued)

    # -- leaving out -----------------------------------------------------------------------------

    def leaving_out(self, first: int, beyond: int) -> Cond:
        """Return that the steps from the current one up to number `beyond` may be left out.

        `first` is the lowest number that the current step can have. That it is not begun is left
        to whoever asks.
        """
        return both(
            self._not_begun(first, beyond),
            self._timers_done(first, beyond),
            self._rest_can_be_done(beyond),
        )

    def _not_begun(self, first: int, beyond: int) -> Cond:
        """Return that no undo left the current step standing begun."""
        return both(
            *(
                either("standing == 0", f"spot != {2 * number}")
                for number in range(first, beyond)
                if self._plan.steps[number].begin is not None
                and self.physical_of(self._plan.steps[number])
            )
        )

    def _timers_done(self, first: int, beyond: int) -> Cond:
        """Return that no timer that the steps left out would have ended still holds or spoils."""
        last: dict[str, int] = {}
        for number in range(first, beyond):
            step = self._plan.steps[number]
            parts: tuple[Part, ...] = ("done",) if step.begin is None else ("begin", "done")
            for part in parts:
                last |= dict.fromkeys(self.ended_by(step, part), number)
        kept: list[Cond] = []
        for name, number in sorted(last.items()):
            passed: Cond = number > first and f"spot > {2 * number + 1}"
            spoiling = self._spoiling.get(name, ())
            if spoiling:
                others = both(*(f"{field(name, STEP)} != {place}" for place in spoiling))
                kept.append(either(passed, off(name), others, f"{field(name, OVERDUE)} == 1"))
            if name in self._holding:
                kept.append(either(passed, not_held(name)))
        return both(*kept)

    def _rest_can_be_done(self, beyond: int) -> Cond:
        known, kept = self._now, []
        for step in self._plan.steps[beyond:]:
            kept.append(known.all_of(step.needs))
            if entry_part(step) == "begin":
                begun = dict.fromkeys(step.begin_establishes, True)
                kept.append(unbroken(self._rules, known, begun, step.begin_voids))
            known = known.after(step.begin_voids, step.begin_establishes)
            kept.append(
                unbroken(self._rules, known, dict.fromkeys(step.establishes, True), step.voids)
            )
            known = known.after(step.voids, step.establishes)
        return both(*kept)
