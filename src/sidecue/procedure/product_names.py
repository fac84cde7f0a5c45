"""Names a practice gives its products, their times and numbers: does anybody ask for them?

A name nobody asks for is never read, and the plan goes on asking for the right one. It is a slip
where it is nearly a name that is asked for and not given: then it is a fault. Any other may be
there on purpose, for procedures that are not loaded now, and is only remarked on.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass

from sidecue.clinical.materials import Material as Filling
from sidecue.procedure.case_facts import PRODUCT_KINDS
from sidecue.procedure.library import steps_of
from sidecue.procedure.practice import Practice
from sidecue.procedure.practice_numbers import INCREMENT, TARGET
from sidecue.procedure.reading import suggest
from sidecue.procedure.schema import PracticeFile, ProcedureFile
from sidecue.procedure.source import Fault, Place, Sourced
from sidecue.procedure.timing import COMPUTED_CURE

_NUMBERS = (INCREMENT, TARGET)
_NEAR = 0.7  # as alike as "warning" and "warn"
_OWN = "(procedures of your own that ask for it: give --flows)"


@dataclass(frozen=True, slots=True)
class ProductNames:
    """What procedures ask of products: by role, the names of times."""

    times: Mapping[str, frozenset[str]]


def product_names(
    files: Iterable[ProcedureFile], given: Collection[str] | None = None
) -> ProductNames:
    """Return the roles and times that these procedures ask for, and those the tool reads itself.

    Of the times only those that some practice has, where they are `given` (`etchant.rinse`): the
    procedure is told of the others.
    """
    found: dict[str, set[str]] = {each.value: set() for each in Filling}
    found |= {role: set() for role in PRODUCT_KINDS.values() if role not in found}
    for file in files:
        for _, step, _ in steps_of(file):
            for timer in step.timers:
                for reference in (timer.least, timer.warn, timer.most):
                    if reference == COMPUTED_CURE:
                        for filling in Filling:
                            found[filling.value].add("cure")
                    elif isinstance(reference, str) and (given is None or reference in given):
                        role, _, name = reference.partition(".")
                        found.setdefault(role, set()).add(name)
    return ProductNames({role: frozenset(names) for role, names in found.items()})


def name_faults(source: Sourced[PracticeFile], known: ProductNames) -> Iterator[Fault]:
    """Yield every name that is nearly one that is asked for and missing, and numbers by any other
    name than the two that are read."""
    document, materials = source.document, source.model.materials
    roles = {entry.role for entry in materials}
    for number, entry in enumerate(materials):
        place: Place = ("materials", number)
        near = _slip(entry.role, known.times, roles)
        if near:
            what = f"no procedure asks for a product in the role {entry.role!r}"
            yield document.fault((*place, "role"), what, f"did you mean {near!r}? {_OWN}")
        for name in entry.times:
            near = _slip(name, known.times.get(entry.role, ()), entry.times)
            if near:
                what = f"no procedure asks for the time {name!r} of {entry.role}"
                where = (*place, "times", name)
                yield document.fault(where, what, f"did you mean {near!r}? {_OWN}")
        for name in entry.numbers:
            if name not in _NUMBERS:
                what, where = f"unknown number {name!r}", (*place, "numbers", name)
                yield document.fault(where, what, suggest(name, _NUMBERS))


def _slip(name: str, asked: Collection[str], given: Collection[str]) -> str:
    """Return the name that was meant, where it is asked for and not given; else nothing."""
    if name in asked:
        return ""
    missing = sorted(each for each in asked if each not in given)
    return next(iter(difflib.get_close_matches(name, missing, n=1, cutoff=_NEAR)), "")


def name_remarks(practice: Practice, known: ProductNames) -> Iterator[str]:
    """Yield a line for each role and time of a practice that nobody asks for."""
    for product in practice.materials:
        times = known.times.get(product.role)
        if times is None:
            yield f"{product.product}: no procedure asks for a product in the role {product.role!r}"
            continue
        for name in product.times:
            if name not in times:
                yield f"{product.product}: no procedure asks for its {name.replace('-', ' ')} time"
