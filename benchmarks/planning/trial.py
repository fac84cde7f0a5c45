"""One case planned, and what must be true of whatever comes of it."""

from __future__ import annotations

import time
from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field

from benchmarks.planning.combinations import Combination, Entry, Office, office_of
from sidecue.procedure.case import CaseFault, case_of
from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan, TimerKind
from sidecue.procedure.planning import PlanError, choose_procedure, plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import CaseFile

_ENDS = {
    TimerKind.HARD_MAXIMUM: ("most",),
    TimerKind.HARD_MINIMUM: ("least",),
    TimerKind.WINDOW: ("least", "most"),
    TimerKind.COUNT_DOWN: ("most",),
}


@dataclass
class Tally:
    """What came of all cases. `seconds` holds the processor time of each plan."""

    planned: int = 0
    asked: int = 0
    blocked: int = 0
    no_procedure: int = 0
    impossible: int = 0
    seconds: list[float] = field(default_factory=list)
    reasons: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)

    def add(self, other: Tally) -> None:
        """Take in what another part of the run came to."""
        for name in ("planned", "asked", "blocked", "no_procedure", "impossible"):
            setattr(self, name, getattr(self, name) + getattr(other, name))
        self.seconds += other.seconds
        self.reasons.update(other.reasons)
        self.faults += other.faults

    @property
    def cases(self) -> int:
        """How many cases there were."""
        return self.planned + self.asked + self.blocked + self.no_procedure + self.impossible


def run(
    library: Library, practice: Practice, combinations: Iterable[Combination], tally: Tally
) -> None:
    """Plan every combination; each is planned, asks, is refused with a reason, or is a fault.

    `practice` is the office where the combination names no other.
    """
    offices: dict[Office, Practice] = {}
    for entry, differs in combinations:
        if differs not in offices:
            offices[differs] = office_of(practice, differs)
        _one(library, offices[differs], entry, tally)


def _one(library: Library, practice: Practice, entry: Entry, tally: Tally) -> None:
    try:
        case = case_of(CaseFile.model_validate(entry), practice.notation)
    except CaseFault as fault:
        tally.impossible += 1
        tally.reasons[f"impossible: {fault.key}"] += 1
        return
    began = time.process_time()
    try:
        made = plan(library, choose_procedure(library, case, practice), case, practice)
    except PlanError as error:
        tally.no_procedure += 1
        told = str(error).partition(", ")[2].partition(": ")[0]
        if not told:
            tally.faults.append(f"{entry}: no reason in {error}")
        tally.reasons[f"no procedure: {told}"] += 1
        return
    except Exception as error:  # noqa: BLE001 - any other is the fault being looked for
        tally.faults.append(f"{entry}: {type(error).__name__}: {error}")
        return
    tally.seconds.append(time.process_time() - began)
    tally.faults += [f"{entry}: {fault}" for fault in faults_of(made)]
    if made.blocks:
        tally.blocked += 1
        tally.reasons.update(f"{block.text} [{block.source}]" for block in made.blocks)
    elif made.questions:
        tally.asked += 1
    else:
        tally.planned += 1


def faults_of(made: Plan) -> Iterable[str]:
    """Yield what must not be: a refusal without reason or source, a question without a mend, a
    startable plan with a step, a time or a tray missing."""
    for block in made.blocks:
        if not block.text or not block.source:
            yield f"a refusal without reason or source: {block}"
        if "unsound" in block.text:
            yield block.text
    for question in made.questions:
        if not question.ask or not question.mend:
            yield f"a question without a mend: {question}"
    if not made.startable:
        return
    if not made.steps or not made.tray:
        yield "a startable plan without steps or tray"
    placing = dict(made.case_facts)["visit"] == ("placing",)
    if not made.materials if placing else {each.role for each in made.materials} - {"surface-coat"}:
        yield "a filling placed without materials, or materials where none is placed"
    for step in made.steps:
        for timer in step.timers:
            if any(getattr(timer, end) is None for end in _ENDS[timer.kind]):
                yield f"step {step.id}: timer {timer.name} has no time"
    if len({step.id for step in made.steps}) != len(made.steps):
        yield "two steps of one id"
