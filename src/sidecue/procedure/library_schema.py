"""The shape of the files that all procedures refer to: instruments, cautions, facts and interlocks,
cues, prompts, emergencies, advice, and what a case must not combine."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from sidecue.procedure.plan import Tier
from sidecue.procedure.schema import FileModel, Identifier, Match, Phrase, Sentence


class InstrumentEntry(FileModel):
    """One instrument, device or consumable."""

    instrument: Identifier
    name: Sentence
    spoken: Sentence
    use: Sentence
    family: Literal[
        "exam", "hand-cutting", "rotary", "restorative", "finishing", "isolation",
        "anaesthesia", "light", "protection", "accessory",
    ]  # fmt: skip
    passing: Literal["single", "two-handed", "hidden", "pair", "placed"] = "single"
    reprocessing: Literal["heat-sterilise", "disinfect", "single-use", "barrier"]
    one_for: Literal["visit", "open-side", "capsule"] = "visit"  # how many pieces are laid out


class InstrumentsFile(FileModel):
    """`flows/instruments.yaml`."""

    instruments: list[InstrumentEntry]


class CautionEntry(FileModel):
    """A safety reminder."""

    caution: Identifier
    say: Sentence
    text: Sentence
    source: Sentence


class CautionsFile(FileModel):
    """`flows/cautions.yaml`."""

    cautions: list[CautionEntry]


class FactEntry(FileModel):
    """A fact steps may need and establish."""

    fact: Identifier
    text: Sentence
    physical: bool = False


class RuleEntry(FileModel):
    """An interlock: `act` with `needs`, or `never`."""

    rule: Identifier
    say: Sentence
    source: Sentence
    act: Identifier | None = None
    needs: list[Identifier] = []
    never: list[Identifier] = []
    when: Match = {}


class RulesFile(FileModel):
    """`flows/rules.yaml`."""

    facts: list[FactEntry]
    rules: list[RuleEntry]


class CueEntry(FileModel):
    """A general cue."""

    cue: Identifier
    phrases: list[Phrase] = Field(min_length=1)
    tier: Tier
    means: Sentence


class CuesFile(FileModel):
    """`flows/cues.yaml`."""

    address: Phrase
    cues: list[CueEntry]
    skip_reasons: list[CueEntry]
    decoys: list[Phrase] = []
    pronunciations: dict[str, str] = {}


class PromptsFile(FileModel):
    """`flows/prompts.yaml`: what the session itself says; every key of `session.prompts.KEYS`."""

    prompts: dict[Identifier, Sentence]


class EmergencyEntry(FileModel):
    """An emergency: short prompts, the last defers to the office's protocol."""

    emergency: Identifier
    heard: list[Phrase] = Field(min_length=1)
    means: Sentence
    says: list[Sentence] = Field(min_length=2)
    source: Sentence


class EmergenciesFile(FileModel):
    """`flows/emergencies.yaml`."""

    emergencies: list[EmergencyEntry]


class AdviceEntry(FileModel):
    """A plain sentence for the patient, given only when every fact in `after` came true."""

    say: Sentence
    source: Sentence
    after: list[Identifier] = []
    when: Match = {}
    unless: Match = {}


class AdviceFile(FileModel):
    """`flows/advice.yaml`."""

    advice: list[AdviceEntry]


class ClashEntry(FileModel):
    """What a case must not combine. `block` refuses the plan; `warn` prints."""

    clash: Identifier
    when: Match
    unless: Match = {}
    verdict: Literal["block", "warn"]
    say: Sentence
    source: Sentence


class CompatibilityFile(FileModel):
    """`flows/compatibility.yaml`."""

    clashes: list[ClashEntry]
