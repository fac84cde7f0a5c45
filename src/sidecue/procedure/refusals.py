"""What of a practice's own file a plan would refuse, or could not go on with, whoever comes.

Told before a case comes that falls into it. What can be seen from the products alone is; the rest
comes of planning the cases the library has.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from sidecue.clinical.curing import layer_limit
from sidecue.clinical.errors import ClinicalError
from sidecue.procedure.case import Case, CaseFault, case_of
from sidecue.procedure.library import Library
from sidecue.procedure.materials import Gap, uses
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import PlanError, choose_procedure, plan
from sidecue.procedure.practice import Material, Practice
from sidecue.procedure.practice_numbers import INCREMENT
from sidecue.procedure.preferences import OWN_FILE
from sidecue.procedure.schema import CaseFile
from sidecue.procedure.timing import FURTHER_OFF

_BULK = ("bulk",)
_WRITTEN = "iso"  # how the shipped cases write their teeth


def refusals(library: Library, practice: Practice, on: date | None) -> tuple[Gap, ...]:
    """Return what a plan would refuse or ask though nothing is missing, for which visits."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for visit, what, mend in (
        *_thick_layers(library, practice),
        *_of_cases(library, practice, on),
    ):
        found.setdefault((what, mend), {}).setdefault(visit)
    return tuple(Gap(what, mend, tuple(visits)) for (what, mend), visits in found.items())


def _thick_layers(library: Library, practice: Practice) -> Iterator[tuple[str, str, str]]:
    """Yield layers that light does not cure through."""
    for use in uses(library, practice.leave_out):
        if use.number != INCREMENT:
            continue
        for product in practice.materials:
            if product.role == use.role and INCREMENT in product.numbers:
                yield from ((use.visit, *each) for each in _thick(product, practice.file))


def _thick(product: Material, file: str) -> Iterator[tuple[str, str]]:
    bulk = product.when.get("fill") == _BULK
    try:
        layer_limit(bulk_fill=bulk, instructions_mm=product.numbers[INCREMENT])
    except ClinicalError as error:
        what = f"{product.product}: {error.what}, {error.why}"
        yield what, f"{error.mend} (`when: {{fill: [bulk]}}`) in {file}"


def _of_cases(
    library: Library, practice: Practice, on: date | None
) -> Iterator[tuple[str, str, str]]:
    for source in library.cases.values():
        case = _read(source.model, practice)
        if case is None:
            continue
        try:
            visit = choose_procedure(library, case, practice)
        except PlanError:
            continue  # what the case is, not what the practice wrote
        made = plan(library, visit, case, practice, on)
        yield from ((visit, *each) for each in _told(made, practice.file))


def _read(entry: CaseFile, practice: Practice) -> Case | None:
    """Return the case as this practice would read its tooth, or as the shipped cases write it."""
    for notation in (practice.notation, _WRITTEN):
        try:
            case = case_of(entry, notation)
        except CaseFault:
            continue
        if case.tooth is not None:
            return case
    return None


def _told(made: Plan, file: str) -> Iterator[tuple[str, str]]:
    for block in made.blocks:
        if block.source in (OWN_FILE, file):
            yield block.text, f"correct it in {file}"
    for question in made.questions:
        if question.id == FURTHER_OFF:  # all else that is asked of a practice is a gap
            yield f"until answered, {question.ask}", question.mend
