"""Everything the procedure files say, loaded and checked: what `planning.plan` works from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from sidecue.procedure.plan import Caution, Cue, Emergency, Fact, Rule
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import (
    AdviceEntry,
    CaseFile,
    ClashEntry,
    InstrumentEntry,
    ProcedureFile,
    RepeatEntry,
    StepEntry,
)
from sidecue.procedure.source import Place, Sourced


@dataclass(frozen=True, slots=True)
class Library:
    """All procedures and parts by id, and what they refer to."""

    procedures: Mapping[str, Sourced[ProcedureFile]]  # whole visits and parts
    visits: tuple[str, ...]  # the ids of whole visits, in file order
    instruments: Mapping[str, InstrumentEntry]
    cautions: Mapping[str, Caution]
    facts: Mapping[str, Fact]
    rules: tuple[Rule, ...]
    address: str
    cues: tuple[Cue, ...]
    skip_reasons: tuple[Cue, ...]
    decoys: tuple[str, ...]
    pronunciations: tuple[tuple[str, str], ...]
    emergencies: tuple[Emergency, ...]
    prompts: tuple[tuple[str, str], ...]
    advice: tuple[AdviceEntry, ...]
    clashes: tuple[ClashEntry, ...]
    practices: Mapping[str, Practice]  # by file name without .yaml
    cases: Mapping[str, Sourced[CaseFile]]  # by file name without .yaml

    def visit(self, procedure: str) -> ProcedureFile:
        """Return the whole visit called `procedure`. Raises KeyError when there is none."""
        if procedure not in self.visits:
            raise KeyError(procedure)
        return self.procedures[procedure].model


def steps_of(procedure: ProcedureFile) -> Iterator[tuple[Place, StepEntry, bool]]:
    """Yield every step a file itself writes: its place, the step, whether it is repeated."""
    for number, entry in enumerate(procedure.steps):
        if isinstance(entry, StepEntry):
            yield ("steps", number), entry, False
        elif isinstance(entry, RepeatEntry):
            for inner, step in enumerate(entry.steps):
                yield ("steps", number, "steps", inner), step, True
