"""A practice's file against the library: favourites, wording and steps it would leave out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from sidecue.procedure.case_facts import CASE_FACTS, PRODUCT_KINDS
from sidecue.procedure.library import steps_of
from sidecue.procedure.matching import match_faults
from sidecue.procedure.phrasing import address_faults
from sidecue.procedure.practice import practice_of
from sidecue.procedure.preferences import wording_fault
from sidecue.procedure.reading import suggest
from sidecue.procedure.schema import PracticeFile, ProcedureFile
from sidecue.procedure.source import Fault, LoadError, Place, Sourced

#: Role: the kinds its product can be, where the kind decides something.
_KINDS = {role: CASE_FACTS[key] for key, role in PRODUCT_KINDS.items()}


def optional_steps(files: Iterable[ProcedureFile]) -> dict[str, bool]:
    """Return every step of the files by id, and whether it may be left out."""
    return {step.step: step.optional for file in files for _, step, _ in steps_of(file)}


def practice_faults(
    source: Sourced[PracticeFile],
    instruments: frozenset[str] | None,
    optional: Mapping[str, bool] | None,
) -> Iterator[Fault]:
    """Yield every fault of a practice. What is None is not known and goes unchecked."""
    try:
        practice_of(source)
    except LoadError as error:
        yield from error.faults
    yield from address_faults(source.model.address, source.document)
    yield from match_faults(source)
    yield from _materials(source)
    if instruments is not None:
        yield from _favourites(source, instruments)
    if optional is not None:
        yield from _step_wishes(source, optional)


def _materials(source: Sourced[PracticeFile]) -> Iterator[Fault]:
    seen: set[tuple[str, str]] = set()
    for number, entry in enumerate(source.model.materials):
        place: Place = ("materials", number)
        key = (entry.role, repr(sorted(entry.when.items())))
        if key in seen:
            what = f"{entry.product!r} would never be used for {entry.role!r}"
            mend = "tell with `when:` which case takes which product"
            yield source.document.fault(place, what, mend)
        seen.add(key)
        known = _KINDS.get(entry.role, ())
        if known and entry.kind not in known:
            what = f"{entry.role} is never {entry.kind!r}"
            yield source.document.fault((*place, "kind"), what, suggest(entry.kind, known))
        if entry.supply is not None and entry.role != "amalgam":
            what = f"only amalgam has a `supply:`, not {entry.role}"
            yield source.document.fault((*place, "supply"), what, "remove it")


def _favourites(source: Sourced[PracticeFile], known: frozenset[str]) -> Iterator[Fault]:
    for name, favourite in source.model.instead.items():
        for each in (name, favourite):
            if each not in known:
                what = f"unknown instrument {each!r}"
                yield source.document.fault(("instead", name), what, suggest(each, known))


def _step_wishes(source: Sourced[PracticeFile], optional: Mapping[str, bool]) -> Iterator[Fault]:
    """Yield wishes about steps that are unknown, or that the overlay may not have."""
    document, file = source.document, source.model
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
