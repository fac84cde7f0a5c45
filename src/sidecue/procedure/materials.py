"""What visits ask of a practice's products: which times, what they mean, and what is missing.

Read from the procedure files alone, for every kind of case at once, so that a gap is found before a
case comes that falls into it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from sidecue.clinical.stock import Lot, refusal
from sidecue.procedure.case_facts import PRODUCT_KINDS
from sidecue.procedure.expansion import Files
from sidecue.procedure.library import Library
from sidecue.procedure.plan import TimerKind
from sidecue.procedure.practice import ANAESTHETIC, Material, Practice
from sidecue.procedure.practice_numbers import INCREMENT, TARGET
from sidecue.procedure.schema import IncludeEntry, Match, RepeatEntry, StepEntry, TimerEntry
from sidecue.procedure.timing import COMPUTED_CURE

LIGHT = "light"

Kinds = Mapping[str, tuple[str, ...]]  # by role
_ANY: Kinds = {}

_KINDS = {
    TimerKind.HARD_MAXIMUM: "hard maximum",
    TimerKind.HARD_MINIMUM: "hard minimum",
    TimerKind.WINDOW: "window",
    TimerKind.COUNT_DOWN: "count-down",
}
_ENDS = {"least": "not before", "warn": "warned at", "most": "not after"}


@dataclass(frozen=True, slots=True)
class Use:
    """One thing a visit asks of the products of a role: a `time`, a `number`, or with neither that
    there is a product at all. `meaning` says what a time limits and when it starts. Where `kinds`
    are told, only products of these are asked."""

    visit: str
    role: str
    time: str = ""
    number: str = ""
    meaning: str = ""
    kinds: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Gap:
    """Something missing: what, how to mend it, and for which visits."""

    what: str
    mend: str
    visits: tuple[str, ...]


def uses(library: Library, leave_out: Collection[str] = ()) -> tuple[Use, ...]:
    """Return everything the visits of the library ask of products, without repeats and without
    the optional steps that a practice leaves out."""
    found: dict[Use, None] = {}
    for visit in library.visits:
        fits = library.visit(visit).fits
        fillings = tuple(fits.get("material", ()))
        placed = () if "polishing" in fits.get("visit", ()) else fillings
        for filling in placed:
            found.setdefault(Use(visit, filling))
        for step, repeated, kinds in _steps(library.procedures, visit, fits):
            if step.optional and step.step in leave_out:
                continue
            for filling in fillings if repeated else ():
                found.setdefault(Use(visit, filling, number=INCREMENT))
            if "cartridges" in step.asks:
                found.setdefault(Use(visit, ANAESTHETIC))
            for timer in step.timers:
                for use in _timer_uses(visit, fillings, step, timer):
                    found.setdefault(replace(use, kinds=kinds.get(use.role, ())))
    return tuple(found)


def _steps(
    files: Files, name: str, fits: Match, kinds: Kinds = _ANY
) -> Iterator[tuple[StepEntry, bool, Kinds]]:
    """Yield every step that some case of a visit can have, whether it is repeated, and the kinds
    of products it is for."""
    for entry in files[name].model.steps:
        if not _possible(entry.when, entry.unless, fits):
            continue
        narrower = _narrowed(kinds, entry.when)
        if isinstance(entry, IncludeEntry):
            yield from _steps(files, entry.include, fits, narrower)
        elif isinstance(entry, RepeatEntry):
            for step in entry.steps:
                if _possible(step.when, step.unless, fits):
                    yield step, True, _narrowed(narrower, step.when)
        else:
            yield entry, False, narrower


def _narrowed(kinds: Kinds, when: Match) -> Kinds:
    """Return the kinds of products, by role, that `when` leaves of `kinds`."""
    told = {
        PRODUCT_KINDS[key]: tuple(values) for key, values in when.items() if key in PRODUCT_KINDS
    }
    return {**kinds, **told}


def _possible(when: Match, unless: Match, fits: Match) -> bool:
    """Return whether a case that a visit fits may meet the condition."""
    for key, values in when.items():
        if key in fits and not set(values) & set(fits[key]):
            return False
    if not unless:
        return True
    return not all(key in fits and set(fits[key]) <= set(values) for key, values in unless.items())


def _timer_uses(
    visit: str, fillings: tuple[str, ...], step: StepEntry, timer: TimerEntry
) -> Iterator[Use]:
    for end, reference in (("least", timer.least), ("warn", timer.warn), ("most", timer.most)):
        if not isinstance(reference, str):
            continue
        meaning = f"{_KINDS[timer.kind]}: {_ENDS[end]}, counted from {_start(step)}"
        if reference == COMPUTED_CURE:
            yield Use(visit, LIGHT)
            for filling in fillings:
                yield Use(visit, filling, time="cure", meaning=meaning)
                yield Use(visit, filling, number=TARGET)
            continue
        role, _, name = reference.partition(".")
        yield Use(visit, role, time=name, meaning=meaning)


def _start(step: StepEntry) -> str:
    cue = step.cue if step.begin is None else step.begin.cue
    return f'"{cue[0]}"'


def meanings(library: Library) -> Mapping[str, tuple[str, ...]]:
    """Return for each time a procedure names (`etchant.dentine`) what it means there."""
    found: dict[str, dict[str, None]] = {}
    for use in uses(library):
        if use.time:
            found.setdefault(f"{use.role}.{use.time}", {}).setdefault(use.meaning)
    return {reference: tuple(each) for reference, each in found.items()}


def gaps(library: Library, practice: Practice, on: date | None) -> tuple[Gap, ...]:
    """Return what a practice lacks for the visits of the library on the day `on`: products, their
    times and numbers, the light's output, and products of which no good lot is left."""
    found: dict[tuple[str, str], dict[str, None]] = {}
    for use in uses(library, practice.leave_out):
        for what, mend in _missing(practice, use, on):
            found.setdefault((what, mend), {}).setdefault(use.visit)
    return tuple(Gap(what, mend, tuple(visits)) for (what, mend), visits in found.items())


def _missing(practice: Practice, use: Use, on: date | None) -> Iterator[tuple[str, str]]:
    where = practice.file
    if use.role == LIGHT:
        if practice.irradiance is None:
            what = f"{practice.light}: its irradiance in mW/cm2, by the practice's own meter"
            yield what, f"enter `irradiance` under `light:` in {where}"
        return
    products = [each for each in practice.stock if each.role == use.role]
    if not products and use.role != ANAESTHETIC:  # an office may work without any
        words = use.role.replace("-", " ")
        yield f"no product for {words}", f"add a material with `role: {use.role}` to {where}"
    for product in products:
        asked = not use.kinds or product.kind in use.kinds
        if asked and use.time and product.times.get(use.time) is None:
            what = f"{product.product}: its {use.time.replace('-', ' ')} time"
            yield what, f"enter `{use.time}` under `times:` in {where}"
        if asked and use.number and use.number not in product.numbers:
            what = f"{product.product}: {use.number.replace('-', ' ')}"
            yield what, f"enter `{use.number}` under `numbers:` in {where}"
        refused = [refusal(product.product, lot, on) for lot in product.lots]
        if refused and all(refused):
            what = "; ".join(each.text for each in refused if each is not None)
            yield what, f"enter the new lot under `lots:` in {where}"


def drawer_notes(practice: Practice, on: date | None) -> tuple[str, ...]:
    """Return what is worth doing about lots though nothing is missing: lots to set aside, lots
    without an expiry day, products without a lot."""
    notes = []
    if not practice.cartridges:
        notes.append(f"no anaesthetic listed in {practice.file}: cartridges cannot be counted")
    for product in practice.stock:
        refused = {lot.number: refusal(product.product, lot, on) for lot in product.lots}
        good = [lot for lot in product.lots if refused[lot.number] is None]
        if good:
            notes += [each.text for each in refused.values() if each is not None]
        notes += [
            f"{product.product}, lot {lot.number}: no expiry day entered"
            for lot in good
            if lot.expiry is None
        ]
        if not product.lots:
            notes.append(f"{product.product}: no lot entered")
    return tuple(notes)


def found_in_drawer(
    practice: Practice, product_number: str | None, lot: str | None
) -> tuple[Material | None, Lot | None]:
    """Return the product with this number, and its lot of that name where it is listed.

    Without a number, the one product that lists the lot, if it is only one.
    """
    if product_number is not None:
        product = next((m for m in practice.stock if m.number == product_number), None)
    else:
        having = [m for m in practice.stock if any(each.number == lot for each in m.lots)]
        product = having[0] if len(having) == 1 else None
    if product is None:
        return None, None
    return product, next((each for each in product.lots if each.number == lot), None)
