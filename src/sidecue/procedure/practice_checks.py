"""A practice's file against the library: favourites, wording and steps it would leave out."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from sidecue.procedure.case_facts import CASE_FACTS, PRODUCT_KINDS
from sidecue.procedure.library import steps_of
from sidecue.procedure.matching import match_faults
from sidecue.procedure.phrasing import address_faults
from sidecue.procedure.plan import Rule
from sidecue.procedure.practice import practice_of
from sidecue.procedure.preferences import wording_fault
from sidecue.procedure.product_names import ProductNames, name_faults, product_names
from sidecue.procedure.reading import suggest
from sidecue.procedure.schema import Begin, PracticeFile, ProcedureFile
from sidecue.procedure.source import Fault, LoadError, Place, Sourced
from sidecue.procedure.time_order import Order, practice_time_faults, time_orders

#: Role: the kinds its product can be, where the kind decides something.
_KINDS = {role: CASE_FACTS[key] for key, role in PRODUCT_KINDS.items()}


@dataclass(frozen=True, slots=True)
class StepWish:
    """What a practice may wish of a step: whether it may be left out, and the first interlock that
    rests on it, if there is one."""

    optional: bool
    rule: str = ""


@dataclass(frozen=True, slots=True)
class Known:
    """What a library has for a practice to speak of. What is None is not known and goes
    unchecked."""

    instruments: frozenset[str] | None = None
    steps: Mapping[str, StepWish] | None = None
    orders: tuple[Order, ...] = ()  # of the times that its procedures ask for
    products: ProductNames | None = None


def known_of(
    files: Iterable[ProcedureFile],
    rules: Iterable[Rule],
    instruments: Iterable[str] | None,
    given: Collection[str] | None = None,
) -> Known:
    """Return what these procedures, interlocks and instruments let a practice speak of; `given` are
    the times that some practice here has, where the procedures themselves are checked too."""
    files = tuple(files)
    named = None if instruments is None else frozenset(instruments)
    names = product_names(files, given)
    return Known(named, step_wishes(files, rules), time_orders(files), names)


def step_wishes(files: Iterable[ProcedureFile], rules: Iterable[Rule]) -> dict[str, StepWish]:
    """Return every step of the files by id, and what may be wished of it."""
    rules = tuple(rules)
    found: dict[str, StepWish] = {}
    for file in files:
        for _, step, _ in steps_of(file):
            begun = step.begin or Begin(cue=step.cue)
            gains, ends = {*step.establishes, *begun.establishes}, {*step.voids, *begun.voids}
            resting = (
                rule.id for rule in rules if gains & set(rule.needs) or ends & set(rule.never)
            )
            found[step.step] = StepWish(step.optional, next(resting, ""))
    return found


def practice_faults(
    source: Sourced[PracticeFile],
    known: Known,
) -> Iterator[Fault]:
    """Yield every fault of a practice."""
    try:
        practice_of(source)
    except LoadError as error:
        yield from error.faults
    yield from address_faults(source.model.address, source.document)
    yield from match_faults(source)
    yield from _materials(source)
    yield from practice_time_faults(source, known.orders)
    if known.products is not None:
        yield from name_faults(source, known.products)
    if known.instruments is not None:
        yield from _favourites(source, known.instruments)
    if known.steps is not None:
        yield from _step_wishes(source, known.steps)


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


def _step_wishes(source: Sourced[PracticeFile], known: Mapping[str, StepWish]) -> Iterator[Fault]:
    """Yield wishes about steps that are unknown, or that the overlay may not have."""
    document, file = source.document, source.model
    for number, step in enumerate(file.leave_out):
        wish = known.get(step)
        if wish is None or not wish.optional:
            what = f"step {step!r} is " + ("unknown" if wish is None else "not optional")
            if wish is not None and wish.rule:
                what += f", interlock {wish.rule!r} rests on it"
            names = [name for name, each in known.items() if each.optional]
            yield document.fault(("leave-out", number), what, suggest(step, names))
    for step, text in file.wording.items():
        refusal = wording_fault(text)
        if step not in known:
            what = f"step {step!r} is unknown"
            yield document.fault(("wording", step), what, suggest(step, known))
        elif refusal is not None:
            what = f"the prompt of step {step!r} {refusal}"
            yield document.fault(("wording", step), what, "shorten or correct it")
