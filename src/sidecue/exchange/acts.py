"""What a step, an undo, a way back and a ring do to the data of the document.

The counterpart of `session.machine._act`, `_undo`, `_go_back` and `_ring`: assignments that an
SCXML interpreter carries out. A place is a number, `spot`: twice the step's number, and one more
while the step is under way.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from sidecue.exchange import timer_fields as f
from sidecue.exchange.conditions import Cond, both, either, flag, gainable
from sidecue.exchange.content import Content
from sidecue.exchange.guards import Guards
from sidecue.procedure.plan import Plan, Step, TimerSpec
from sidecue.session.holds import Part, entry_part
from sidecue.session.timers import ALARMING
from sidecue.session.undoing import UNDO_DEPTH

#: The fields of a checkpoint, one array for each act that can be undone.
SPOT, DONE, SKIPS, AT, ENTRY, STANDING, FACTS, ENDED, VALUES, RAN = range(10)
NEVER = "1000000000000"


class Acts:
    """The acts of one plan."""

    def __init__(self, plan: Plan, guards: Guards) -> None:
        self.plan = plan
        self._guards = guards
        self.facts = gainable(plan)
        self._physical = frozenset(fact.id for fact in plan.facts if fact.physical)
        specs = [spec for step in plan.steps for spec in step.timers]
        self.timers = tuple(sorted({spec.name for spec in specs}))
        wanted = {spec.no_less_than for spec in specs if spec.no_less_than is not None}
        self.ran = tuple(sorted(wanted & set(self.timers)))
        self.slots = tuple(slot.id for slot in plan.slots if not slot.many)

    @property
    def values(self) -> tuple[str, ...]:
        """The variables that hold what was said, the entries of the slot of many last."""
        return (*(said(slot) for slot in self.slots), "entries", "entry_count")

    # -- a step ----------------------------------------------------------------------------------

    def act(
        self, into: Content, step: Step, part: Part,
        meanwhile: Callable[[Content], None] | None = None,
    ) -> None:  # fmt: skip
        """Begin or end `step`, `meanwhile` what is no part of the checkpoint."""
        number = self.plan.step_index[step.id]
        ending = self._guards.ended_by(step, part)
        specs = step.timers if part == entry_part(step) else ()
        replaced = [spec for spec in specs if spec.name not in ending]
        for place, spec in enumerate(replaced):
            old = f"old_{place}"
            into.let(old, 0)
            changed = both(f.runs(spec.name), f"{f.field(spec.name, f.STARTED)} != now")
            into.when(both(changed, self._started_anew(spec, number))).let(
                old, f.variable(spec.name)
            )
        ended = {name: f.variable(name) for name in ending}
        ended |= {spec.name: f"old_{place}" for place, spec in enumerate(replaced)}
        self.checkpoint(into, ended)
        if meanwhile is not None:
            meanwhile(into)
        self.end(into, sorted(ending))
        for spec in specs:
            self._start(into, spec, number)
        voided = step.begin_voids if part == "begin" else step.voids
        gained = step.begin_establishes if part == "begin" else step.establishes
        into.clear(flag(fact) for fact in voided if fact in self.facts and fact not in gained)
        for fact in gained:
            into.let(flag(fact), 1)
        into.let("standing", 0)
        if part == "done":
            into.let("done", f"done + ' {number}'")
            if number + 1 == len(self.plan.steps):
                self.end(into, self.timers)

    def _started_anew(self, spec: TimerSpec, number: int) -> Cond:
        """Return that `spec` is started: a maximum goes on when a standing act is only told."""
        if spec.kind not in ALARMING or not self._guards.physical_of(self.plan.steps[number]):
            return True
        return either(
            "standing == 0", f.off(spec.name), f"{f.field(spec.name, f.STEP)} != {number}"
        )

    def _start(self, into: Content, spec: TimerSpec, number: int) -> None:
        least, other = f.seconds(spec.least), spec.no_less_than
        into = into.when(self._started_anew(spec, number))
        if other is not None and other in self.ran:
            into.let("least", least)
            into.let("ran", f.ran(other))
            running = into.when(f.runs(other))
            running.let("ran", f"now - {f.field(other, f.STARTED)}")
            into.when(both("ran >= 0", "(least < 0 || ran > least)")).let("least", "ran")
            least = "least"
        self.end(into, [spec.name])
        into.let(f.variable(spec.name), f.fresh(spec, number, least))

    def end(self, into: Content, names: Iterable[str]) -> None:
        """End those of the timers `names` that run."""
        for name in names:
            if name in self.ran:
                running = into.when(f.runs(name))
                running.let(f.ran(name), f"now - {f.field(name, f.STARTED)}")
            into.let(f.variable(name), 0)

    # -- undo ------------------------------------------------------------------------------------

    def checkpoint(
        self, into: Content, ended: dict[str, str] | None = None, *, entry: bool = False
    ) -> None:
        """Remember where an undo leads; `ended` has what was running, of timers the act ends."""
        for number in range(UNDO_DEPTH, 1, -1):
            into.let(f"undo_{number}", f"undo_{number - 1}")
        facts = ", ".join(flag(fact) for fact in self.facts)
        timers = ", ".join((ended or {}).get(name, "0") for name in self.timers)
        ran = ", ".join(f.ran(name) for name in self.ran)
        into.let(
            "undo_1",
            f"[spot, done, skips, now, {int(entry)}, standing, [{facts}], [{timers}],"
            f" [{', '.join(self.values)}], [{ran}]]",
        )
        into.when(f"undo_depth < {UNDO_DEPTH}").let("undo_depth", "undo_depth + 1")

    def undo(self, into: Content) -> None:
        """Take back the last act: claims, and never what was done to patient or material."""
        for number, name in enumerate(self.values):
            into.let(name, f"undo_1[{VALUES}][{number}]")
        into.let("undo_depth", "undo_depth - 1")
        act = into.when(f"undo_1[{ENTRY}] == 0")
        act.let("kept", 0)
        for step in self.plan.steps:
            self._stands(act, step)
        for name, number in (("spot", SPOT), ("goto", SPOT), ("done", DONE), ("skips", SKIPS)):
            act.let(name, f"undo_1[{number}]")
        self._taken_back(act.when("kept == 0"))
        self._standing(act.when("kept == 1"))
        for number in range(1, UNDO_DEPTH):
            into.let(f"undo_{number}", f"undo_{number + 1}")

    def _stands(self, into: Content, step: Step) -> None:
        physical = self._guards.physical_of(step)
        if not physical:
            return
        place = 2 * self.plan.step_index[step.id]
        gained = (
            both(f"{flag(fact)} == 1", f"undo_1[{FACTS}][{self.facts.index(fact)}] == 0")
            for fact in physical
        )
        here = f"undo_1[{SPOT}]"
        places = [f"{here} == {place}"] + ([f"{here} == {place + 1}"] if step.begin else [])
        into.when(both(either(*places), either(*gained))).let("kept", 1)

    def _taken_back(self, into: Content) -> None:
        for number, fact in enumerate(self.facts):
            before = f"undo_1[{FACTS}][{number}]"
            stands = fact in self._physical
            (into.when(f"{flag(fact)} == 0") if stands else into).let(flag(fact), before)
        into.let("standing", f"undo_1[{STANDING}]")
        for name in self.timers:
            number, step = self.timers.index(name), f.field(name, f.STEP)
            ended = f"undo_1[{ENDED}][{number}]"
            its = either(f"undo_1[{SPOT}] == 2 * {step}", f"undo_1[{SPOT}] == 2 * {step} + 1")
            started = f"{f.field(name, f.STARTED)} == undo_1[{AT}]"
            branches = into.when(f"{ended} != 0")
            branches.let(f.variable(name), ended)
            branches.otherwise(both(f.runs(name), its, started))
            branches.let(f.variable(name), 0)
        for number, name in enumerate(self.ran):
            into.let(f.ran(name), f"undo_1[{RAN}][{number}]")

    def _standing(self, into: Content) -> None:
        for number, fact in enumerate(self.facts):
            if fact not in self._physical:
                into.when(f"undo_1[{FACTS}][{number}] == 0").let(flag(fact), 0)
        into.let("standing", 1)
        into.let("undo_depth", 0)

    # -- ways back -------------------------------------------------------------------------------

    def go_back(self, into: Content, step: str, voids: Iterable[str]) -> None:
        """Return to `step` unless the session has not come so far; lose `voids`."""
        number = self.plan.step_index[step]
        back = into.when(f"spot >= {2 * number}")
        for place, left in enumerate(self.plan.steps[number:], number):
            own = sorted(self._guards.ends_with(left))
            if own:
                stood = both(f"spot == {2 * place}", "standing == 1")
                begun = either(f"spot == {2 * place + 1}", stood)
                self.end(back.when(begun), own)
        back.let("spot", 2 * number)
        back.let("goto", 2 * number)
        self.without(into, voids)

    def without(self, into: Content, voids: Iterable[str]) -> None:
        """Lose the facts `voids`, what rests on them, and a question asked before."""
        into.clear(flag(fact) for fact in voids if fact in self.facts)
        for name in self.timers:
            for number, step in enumerate(self.plan.steps):
                for spec in step.timers:
                    if spec.name == name and spec.overdue_voids:
                        guarded = (fact for fact in spec.overdue_voids if fact in self.facts)
                        gone = (f"{flag(fact)} == 0" for fact in guarded)
                        its = f"{f.field(name, f.STEP)} == {number}"
                        waiting = f"{f.field(name, f.OVERDUE)} == 0"
                        self.end(into.when(both(f.runs(name), its, waiting, *gone)), [name])
        into.clear(("undo_depth", "standing"))
        into.when("In('asked.emergency-over') == false").let("lapses", 0)

    # -- the clock -------------------------------------------------------------------------------

    def ring(self, into: Content) -> None:
        """Do what `next_ring` of the timer `next_of` does, and the end of a question."""
        lapsed = into.when("next_ring == 'lapse'")
        lapsed.let("lapses", 0)
        lapsed.otherwise()
        lapsed.when("next_at > now").let("now", "next_at")
        for name in self.timers:
            its = lapsed.when(f"next_of == '{name}'")
            warn = its.when("next_ring == 'warn'")
            warn.let(f.variable(name), f.marked(name, f.WARNED))
            warn.otherwise("next_ring == 'ripe'")
            warn.let(f.variable(name), f.marked(name, f.RIPE))
            warn.otherwise()
            warn.let(f.variable(name), f.marked(name, f.WARNED, f.OVERDUE))
            self._over(warn, name)

    def _over(self, into: Content, name: str) -> None:
        telling = into.when(f"{f.field(name, f.ALARMS)} == 0")
        self.end(telling, [name])
        for number, step in enumerate(self.plan.steps):
            for spec in step.timers:
                if spec.name != name or spec.kind not in ALARMING:
                    continue
                if not spec.overdue_voids and spec.overdue_back_to is None:
                    continue
                telling.otherwise(f"{f.field(name, f.STEP)} == {number}")
                if spec.overdue_back_to is not None:
                    self.end(telling, [name])
                    self.go_back(telling, spec.overdue_back_to, spec.overdue_voids)
                else:
                    self.without(telling, spec.overdue_voids)

    def look_ahead(self, into: Content) -> None:
        """Find what rings next: `next_at`, `next_of`, `next_ring`."""
        into.let("next_at", NEVER)
        for name in self.timers:
            running = into.when(f.runs(name))
            for ring, when, mark in (
                ("over", f.MOST, f.OVERDUE), ("ripe", f.LEAST, f.RIPE), ("warn", f.WARN, f.WARNED)
            ):  # fmt: skip
                due = f"{f.field(name, f.STARTED)} + {f.field(name, when)}"
                waits = both(f"{f.field(name, mark)} == 0", f"{f.field(name, when)} >= 0")
                first = running.when(both(waits, f"{due} < next_at"))
                first.let("next_at", due)
                first.let("next_of", f"'{name}'")
                first.let("next_ring", f"'{ring}'")
        asked = into.when("lapses > 0 && lapses <= next_at")
        asked.let("next_at", "lapses")
        asked.let("next_ring", "'lapse'")

    # -- values ----------------------------------------------------------------------------------

    def record(self, into: Content) -> None:
        """Keep the value that was read back."""
        branches: Content | None = None
        for slot in self.plan.slots:
            condition = f"asked_slot == '{slot.id}'"
            if branches is None:
                branches = into.when(condition)
            else:
                branches.otherwise(condition)
            if slot.many:
                branches.let("entries", "[entries, asked_cue]")
                branches.let("entry_count", "entry_count + 1")
            else:
                branches.let(said(slot.id), "asked_cue")


def said(slot: str) -> str:
    """Return the variable of a slot's value."""
    return f"v_{slot.replace('-', '_')}"
