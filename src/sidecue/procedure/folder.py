"""What lies where in a folder of procedures: which file holds what, and what is unique in it."""

from __future__ import annotations

from collections.abc import Mapping

from sidecue.procedure.library_schema import (
    AdviceFile,
    CautionsFile,
    CompatibilityFile,
    CuesFile,
    EmergenciesFile,
    InstrumentsFile,
    PromptsFile,
    RulesFile,
)
from sidecue.procedure.schema import CaseFile, FileModel, PracticeFile, ProcedureFile

#: Files with one fixed name, and what stands in them.
SINGLE: Mapping[str, type[FileModel]] = {
    "instruments.yaml": InstrumentsFile,
    "cautions.yaml": CautionsFile,
    "rules.yaml": RulesFile,
    "cues.yaml": CuesFile,
    "prompts.yaml": PromptsFile,
    "emergencies.yaml": EmergenciesFile,
    "advice.yaml": AdviceFile,
    "compatibility.yaml": CompatibilityFile,
}
#: Folders of files, each file one thing.
FOLDERS: Mapping[str, type[FileModel]] = {
    "procedures": ProcedureFile,
    "parts": ProcedureFile,
    "practices": PracticeFile,
    "cases": CaseFile,
}
#: What is listed where: file kind, list, and the key that must be unique.
LISTED: tuple[tuple[type[FileModel], str, str], ...] = (
    (InstrumentsFile, "instruments", "instrument"),
    (CautionsFile, "cautions", "caution"),
    (RulesFile, "facts", "fact"),
    (RulesFile, "rules", "rule"),
    (CuesFile, "cues", "cue"),
    (CuesFile, "skip_reasons", "cue"),
    (EmergenciesFile, "emergencies", "emergency"),
    (CompatibilityFile, "clashes", "clash"),
)
