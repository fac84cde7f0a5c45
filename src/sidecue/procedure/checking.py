"""Meaning: what fits the schema and is still wrong. All of it at once, each with its line.

References to a kind of file that could not be read are not checked: one broken file gives its own
fault, not a hundred others.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath

from sidecue.procedure.case import CaseFault, case_of
from sidecue.procedure.folder import LISTED
from sidecue.procedure.gathering import Gathered
from sidecue.procedure.library import rule_of
from sidecue.procedure.library_schema import AdviceFile, InstrumentsFile, RulesFile
from sidecue.procedure.matching import match_faults
from sidecue.procedure.phrasing import phrase_faults
from sidecue.procedure.practice_checks import Known, known_of, practice_faults
from sidecue.procedure.reading import suggest
from sidecue.procedure.references import practice_times, procedure_faults
from sidecue.procedure.schema import CaseFile, PracticeFile, ProcedureFile
from sidecue.procedure.source import Document, Fault, Place
from sidecue.procedure.walking import walk_all


def check_library(gathered: Gathered) -> list[Fault]:
    """Return every fault of meaning."""
    conditions = list(_conditions(gathered))
    faults = [
        *conditions,
        *_duplicates(gathered),
        *_rules(gathered),
        *_practices(gathered),
        *_cases(gathered),
        *phrase_faults(gathered),
    ]
    references, sound = procedure_faults(gathered)
    faults += references
    if (
        sound
        and not conditions
        and ProcedureFile not in gathered.broken
        and RulesFile not in gathered.broken
    ):
        files = {source.model.procedure: source for source in gathered.of(ProcedureFile)}
        rules = tuple(rule_of(entry) for _, _, entry in gathered.entries(RulesFile, "rules"))
        faults += walk_all(files, gathered.visit_ids(), rules)
    return faults


def _duplicates(gathered: Gathered) -> Iterator[Fault]:
    for model, listed, key in LISTED:
        seen: dict[str, str] = {}
        for source, place, entry in gathered.entries(model, listed):
            yield from _once(seen, getattr(entry, key), key, source.document, (*place, key))
    seen = {}
    for procedure in gathered.of(ProcedureFile):
        name = procedure.model.procedure
        yield from _once(seen, name, "procedure", procedure.document, ("procedure",))
    for kind, word in ((PracticeFile, "practice file"), (CaseFile, "case file")):
        seen = {}
        for source in gathered.of(kind):
            stem = PurePath(source.document.file).stem
            yield from _once(seen, stem, word, source.document, ())


def _once(
    seen: dict[str, str], name: str, kind: str, document: Document, place: Place
) -> Iterator[Fault]:
    where = f"{document.file}:{document.line(place)}"
    if name in seen:
        mend = f"{seen[name]} has it already; give it a name of its own"
        yield document.fault(place, f"{kind} {name!r} is there twice", mend)
    seen.setdefault(name, where)


def _conditions(gathered: Gathered) -> Iterator[Fault]:
    """Yield every `when:`, `unless:` and `fits:` that no case could match."""
    for model, sources in gathered.files.items():
        if model is not PracticeFile:
            for source in sources:
                yield from match_faults(source)


def _rules(gathered: Gathered) -> Iterator[Fault]:
    facts = {entry.fact for _, _, entry in gathered.entries(RulesFile, "facts")}
    for source, place, rule in gathered.entries(RulesFile, "rules"):
        acts = rule.act is not None and bool(rule.needs) and not rule.never
        nevers = rule.act is None and not rule.needs and len(rule.never) > 1
        if not (acts or nevers):
            yield source.document.fault(
                place, f"rule {rule.rule!r} has neither of the two forms",
                "give `act` and `needs`, or `never` with two facts or more",
            )  # fmt: skip
        named = [("act", rule.act)] if rule.act is not None else []
        named += [("needs", fact) for fact in rule.needs] + [("never", f) for f in rule.never]
        for key, fact in named:
            if fact not in facts:
                yield source.document.fault(
                    (*place, key), f"unknown fact {fact!r}", suggest(fact, facts)
                )
    if RulesFile in gathered.broken:
        return
    for advice, place, entry in gathered.entries(AdviceFile, "advice"):
        for fact in entry.after:
            if fact not in facts:
                yield advice.document.fault(
                    (*place, "after"), f"unknown fact {fact!r}", suggest(fact, facts)
                )


def _practices(gathered: Gathered) -> Iterator[Fault]:
    entries = gathered.entries(InstrumentsFile, "instruments")
    broken = InstrumentsFile in gathered.broken
    instruments = None if broken else frozenset(entry.instrument for _, _, entry in entries)
    known = Known(instruments)
    if ProcedureFile not in gathered.broken:
        rules = [rule_of(entry) for _, _, entry in gathered.entries(RulesFile, "rules")]
        files = (source.model for source in gathered.of(ProcedureFile))
        known = known_of(files, rules, instruments, practice_times(gathered))
    for source in gathered.of(PracticeFile):
        yield from practice_faults(source, known)


def _cases(gathered: Gathered) -> Iterator[Fault]:
    notations = {source.model.notation for source in gathered.of(PracticeFile)}
    notation = notations.pop() if len(notations) == 1 else None
    for source in gathered.of(CaseFile):
        try:
            case_of(source.model, notation)
        except CaseFault as fault:
            what = f"{fault.key}: {fault.what}"
            yield source.document.fault((fault.key,), what, fault.mend)
