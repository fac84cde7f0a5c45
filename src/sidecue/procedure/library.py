"""Everything the procedure files say, loaded and checked: what `planning.plan` works from."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePath

from sidecue.procedure.gathering import Gathered
from sidecue.procedure.library_schema import (
    AdviceEntry,
    AdviceFile,
    CautionsFile,
    ClashEntry,
    CompatibilityFile,
    CueEntry,
    CuesFile,
    EmergenciesFile,
    EmergencyEntry,
    InstrumentEntry,
    InstrumentsFile,
    PromptsFile,
    RuleEntry,
    RulesFile,
)
from sidecue.procedure.plan import Caution, Cue, Emergency, Fact, Rule, Tier
from sidecue.procedure.practice import Practice, practice_of
from sidecue.procedure.schema import (
    CaseFile,
    Match,
    PracticeFile,
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


def library_of(gathered: Gathered) -> Library:
    """Return the library of files that were checked. Raises LoadError for a bad practice."""
    cues = [source.model for source in gathered.of(CuesFile)]
    return Library(
        procedures={source.model.procedure: source for source in gathered.of(ProcedureFile)},
        visits=gathered.visit_ids(),
        instruments={
            entry.instrument: entry
            for _, _, entry in gathered.entries(InstrumentsFile, "instruments")
        },
        cautions={
            entry.caution: Caution(entry.caution, entry.say, entry.text, entry.source)
            for _, _, entry in gathered.entries(CautionsFile, "cautions")
        },
        facts={
            entry.fact: Fact(entry.fact, entry.text, entry.physical)
            for _, _, entry in gathered.entries(RulesFile, "facts")
        },
        rules=tuple(rule_of(entry) for _, _, entry in gathered.entries(RulesFile, "rules")),
        address=cues[0].address if cues else "",
        cues=tuple(cue_of(entry) for file in cues for entry in file.cues),
        skip_reasons=tuple(cue_of(entry) for file in cues for entry in file.skip_reasons),
        decoys=tuple(phrase for file in cues for phrase in file.decoys),
        pronunciations=tuple(
            (word, phones) for file in cues for word, phones in file.pronunciations.items()
        ),
        emergencies=tuple(
            emergency_of(entry) for _, _, entry in gathered.entries(EmergenciesFile, "emergencies")
        ),
        prompts=tuple(
            (key, text)
            for source in gathered.of(PromptsFile)
            for key, text in source.model.prompts.items()
        ),
        advice=tuple(entry for _, _, entry in gathered.entries(AdviceFile, "advice")),
        clashes=tuple(entry for _, _, entry in gathered.entries(CompatibilityFile, "clashes")),
        practices={_stem(source): practice_of(source) for source in gathered.of(PracticeFile)},
        cases={_stem(source): source for source in gathered.of(CaseFile)},
    )


def rule_of(entry: RuleEntry) -> Rule:
    """Return the interlock an entry describes."""
    return Rule(
        id=entry.rule,
        say=entry.say,
        source=entry.source,
        act=entry.act,
        needs=tuple(entry.needs),
        never=tuple(entry.never),
        when=match_of(entry.when),
    )


def match_of(match: Match) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Return a `when:` as plain tuples."""
    return tuple((key, tuple(values)) for key, values in match.items())


def cue_of(entry: CueEntry) -> Cue:
    """Return the general cue an entry describes."""
    return Cue(entry.cue, tuple(entry.phrases), entry.tier, entry.means)


def emergency_of(entry: EmergencyEntry) -> Emergency:
    """Return the emergency an entry describes; its cue counts in every state."""
    cue = Cue(f"emergency.{entry.emergency}", tuple(entry.heard), Tier.ALARM, entry.means)
    return Emergency(entry.emergency, cue, tuple(entry.says), entry.source)


def steps_of(procedure: ProcedureFile) -> Iterator[tuple[Place, StepEntry, bool]]:
    """Yield every step a file itself writes: its place, the step, whether it is repeated."""
    for number, entry in enumerate(procedure.steps):
        if isinstance(entry, StepEntry):
            yield ("steps", number), entry, False
        elif isinstance(entry, RepeatEntry):
            for inner, step in enumerate(entry.steps):
                yield ("steps", number, "steps", inner), step, True


def _stem(source: Sourced[PracticeFile] | Sourced[CaseFile]) -> str:
    return PurePath(source.document.file).stem
