"""A visit in which values are said: the shipped library, other drawers, and a driver by phrase."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from shipped_library import shipped
from sidecue.clinical.anaesthetic import solution_named
from sidecue.hearing.port import Vocabulary
from sidecue.hearing.text import hear_text
from sidecue.procedure.case import case_of
from sidecue.procedure.plan import Plan, Solution
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.schema import CaseFile
from sidecue.session.effects import Effect, Refuse, Say
from sidecue.session.events import CueGiven, Event, Started, TimePassed
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

CASE: dict[str, Any] = {
    "tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam", "depth-mm": 4,
    "remaining-dentine-mm": 1.5, "liner": "none", "matrix": "sectional",
    "anaesthetic": "lidocaine-epinephrine-100k", "age-years": 34, "weight-kg": 70,
}  # fmt: skip


def plan_for(
    drawer: Mapping[str, float] | None = None, rules: str = "lower", **case: object
) -> Plan:
    """The plan of CASE changed by `case` (underscores for hyphens; None takes away), with other
    solutions, millilitres by id."""
    office = replace(shipped().practices["example"], dose_rules=rules)
    if drawer is not None:
        solutions = (
            Solution(name, solution_named(name).drug.value, ml) for name, ml in drawer.items()
        )
        office = replace(office, anaesthetics=tuple(solutions))
    entry = CASE | {key.replace("_", "-"): value for key, value in case.items()}
    told = {key: value for key, value in entry.items() if value is not None}
    made = case_of(CaseFile.model_validate(told), office.notation)
    return plan(shipped(), choose_procedure(shipped(), made, office), made, office)


@dataclass
class Chair:
    """Drives one machine by phrases, and keeps every event."""

    machine: SessionMachine
    state: SessionState
    events: list[Event] = field(default_factory=list)
    effects: tuple[Effect, ...] = ()

    @property
    def said(self) -> list[str]:
        return [effect.text for effect in self.effects if isinstance(effect, Say)]

    @property
    def values(self) -> list[str]:
        return [value.value for value in self.state.values]

    def give(self, event: Event) -> Chair:
        self.state, self.effects = self.machine.step(self.state, event)
        self.events.append(event)
        return self

    def hear(self, phrase: str, after: float = 1.0) -> bool:
        """Say `phrase` with the address; return whether it counted."""
        now = self.state.now + after
        plan_ = self.machine.plan
        cues = self.machine.cues_now(self.state)
        vocabulary = Vocabulary(cues, plan_.address, decoys=plan_.decoys)
        heard = hear_text(f"{plan_.address} {phrase}", now, vocabulary)
        self.effects = ()
        if heard.cue is None:
            return False
        self.give(CueGiven(now, heard.cue, phrase=phrase))
        return True

    def say(self, *phrases: str) -> Chair:
        for phrase in phrases:
            assert self.hear(phrase), phrase
        return self

    def come_to(self, step: str) -> Chair:
        while self.state.step != step or self.state.question is not None:
            cues = {cue.id for cue in self.machine.cues_now(self.state)}
            own = "confirm" if "confirm" in cues else self.machine.cues_now(self.state)[0].id
            self.give(CueGiven(self.state.now + 1.0, own))
            if any(isinstance(effect, Refuse) for effect in self.effects):
                due = self.machine.next_deadline(self.state)
                assert due is not None, self.said
                self.give(TimePassed(due))
        return self


def chair(made: Plan | None = None, step: str | None = None) -> Chair:
    """A started visit, at `step`."""
    machine = SessionMachine(made or plan_for())
    visit = Chair(machine, machine.first()).give(Started(0.0))
    return visit if step is None else visit.come_to(step)
