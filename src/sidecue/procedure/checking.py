"""Meaning: what fits the schema and is still wrong. All of it at once, each with its line.

References to a kind of file that could not be read are not checked: one broken file gives its own
fault, not a hundred others.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import PurePath
from typing import Any

from sidecue.clinical.amalgam import Alloy
from sidecue.procedure.case import CaseFault, case_of
from sidecue.procedure.case_facts import CASE_FACTS
from sidecue.procedure.gathering import Gathered
from sidecue.procedure.library import rule_of, steps_of
from sidecue.procedure.phrasing import phrase_faults
from sidecue.procedure.practice import practice_of
from sidecue.procedure.preferences import wording_fault
from sidecue.procedure.reading import suggest
from sidecue.procedure.references import procedure_faults
from sidecue.procedure.schema import (
    AdviceFile,
    CaseFile,
    CautionsFile,
    CompatibilityFile,
    CuesFile,
    EmergenciesFile,
    FileModel,
    InstrumentsFile,
    Match,
    PracticeFile,
    ProcedureFile,
    RulesFile,
)
from sidecue.procedure.source import Document, Fault, LoadError, Place, Sourced
from sidecue.procedure.walking import walk

#: What is listed where: file kind, list, and the key that must be unique.
_LISTED: tuple[tuple[type[FileModel], str, str], ...] = (
    (InstrumentsFile, "instruments", "instrument"),
    (CautionsFile, "cautions", "caution"),
    (RulesFile, "facts", "fact"),
    (RulesFile, "rules", "rule"),
    (CuesFile, "cues", "cue"),
    (CuesFile, "skip_reasons", "cue"),
    (EmergenciesFile, "emergencies", "emergency"),
    (CompatibilityFile, "clashes", "clash"),
    (ProcedureFile, "happenings", "happening"),
)


def check_library(gathered: Gathered) -> list[Fault]:
    """Return every fault of meaning."""
    faults = [
        *_duplicates(gathered),
        *_matches(gathered),
        *_rules(gathered),
        *_practices(gathered),
        *_cases(gathered),
        *phrase_faults(gathered),
    ]
    references, sound = procedure_faults(gathered)
    faults += references
    if sound and ProcedureFile not in gathered.broken and RulesFile not in gathered.broken:
        files = {source.model.procedure: source for source in gathered.of(ProcedureFile)}
        rules = tuple(rule_of(entry) for _, _, entry in gathered.entries(RulesFile, "rules"))
        for visit in gathered.visit_ids():
            faults += walk(files, visit, rules)
    return faults


def _duplicates(gathered: Gathered) -> Iterator[Fault]:
    for model, listed, key in _LISTED:
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


def _matches(gathered: Gathered) -> Iterator[Fault]:
    """Yield every `when:`, `unless:` and `fits:` that no case could match."""
    for sources in gathered.files.values():
        for source in sources:
            for place, match in _found_matches(source.model, ()):
                yield from match_faults(source.document, place, match)


def _found_matches(value: Any, place: Place) -> Iterator[tuple[Place, Match]]:
    if isinstance(value, FileModel):
        for name, field in type(value).model_fields.items():
            inner = (*place, field.alias or name)
            if name in ("when", "unless", "fits") and isinstance(getattr(value, name), dict):
                yield inner, getattr(value, name)
            else:
                yield from _found_matches(getattr(value, name), inner)
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from _found_matches(item, (*place, number))


def match_faults(document: Document, place: Place, match: Match) -> Iterator[Fault]:
    """Yield what is wrong with one `when:`."""
    for key, values in match.items():
        if key not in CASE_FACTS:
            yield document.fault(
                (*place, key), f"unknown case fact {key!r}", suggest(key, CASE_FACTS)
            )
            continue
        if not values:
            yield document.fault((*place, key), f"{key!r} matches nothing", "name a value")
        for number, value in enumerate(values):
            if value not in CASE_FACTS[key]:
                yield document.fault(
                    (*place, key, number),
                    f"{key!r} is never {value!r}",
                    suggest(value, CASE_FACTS[key]),
                )


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
    for source in gathered.of(PracticeFile):
        try:
            practice_of(source)
        except LoadError as error:
            yield from error.faults
        yield from _materials(source)
        if InstrumentsFile not in gathered.broken:
            yield from _favourites(source, gathered)
        if ProcedureFile not in gathered.broken:
            yield from _step_wishes(source, gathered)


def _favourites(source: Sourced[PracticeFile], gathered: Gathered) -> Iterator[Fault]:
    known = {e.instrument for _, _, e in gathered.entries(InstrumentsFile, "instruments")}
    for name, favourite in source.model.instead.items():
        for each in (name, favourite):
            if each not in known:
                what = f"unknown instrument {each!r}"
                yield source.document.fault(("instead", name), what, suggest(each, known))


def _step_wishes(source: Sourced[PracticeFile], gathered: Gathered) -> Iterator[Fault]:
    """Yield wishes about steps that are unknown, or that the overlay may not have."""
    document, file = source.document, source.model
    optional = {
        step.step: step.optional
        for procedure in gathered.of(ProcedureFile)
        for _, step, _ in steps_of(procedure.model)
    }
    for number, step in enumerate(file.leave_out):
        if not optional.get(step, False):
            what = f"step {step!r} is " + ("not optional" if step in optional else "unknown")
            names = [name for name, may in optional.items() if may]
            yield document.fault(("leave-out", number), what, suggest(step, names))
    for step, text in file.wording.items():
        refusal = wording_fault(text)
        if step not in optional:
            what = f"step {step!r} is unknown"
            yield document.fault(("wording", step), what, suggest(step, optional))
        elif refusal is not None:
            what = f"the prompt of step {step!r} {refusal}"
            yield document.fault(("wording", step), what, "shorten or correct it")


def _materials(source: Sourced[PracticeFile]) -> Iterator[Fault]:
    seen: set[tuple[str, str]] = set()
    for number, entry in enumerate(source.model.materials):
        place: Place = ("materials", number)
        key = (entry.role, repr(sorted(entry.when.items())))
        if key in seen:
            yield source.document.fault(
                place, f"{entry.product!r} would never be used for {entry.role!r}",
                "tell with `when:` which case takes which product",
            )  # fmt: skip
        seen.add(key)
        alloys = [alloy.value for alloy in Alloy]
        if entry.role == "amalgam" and entry.kind not in alloys:
            yield source.document.fault(
                (*place, "kind"), f"amalgam is never {entry.kind!r}", suggest(entry.kind, alloys)
            )


def _cases(gathered: Gathered) -> Iterator[Fault]:
    notations = {source.model.notation for source in gathered.of(PracticeFile)}
    notation = notations.pop() if len(notations) == 1 else None
    for source in gathered.of(CaseFile):
        try:
            case_of(source.model, notation)
        except CaseFault as fault:
            what = f"{fault.key}: {fault.what}"
            yield source.document.fault((fault.key,), what, fault.mend)
