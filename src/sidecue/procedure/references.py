"""References of procedure files: everything a step names must exist, in a form that can be used."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sidecue.procedure.gathering import Gathered
from sidecue.procedure.library import steps_of
from sidecue.procedure.library_schema import (
    CautionsFile,
    InstrumentsFile,
    RulesFile,
)
from sidecue.procedure.plan import TimerKind
from sidecue.procedure.reading import suggest
from sidecue.procedure.schema import (
    HandChoice,
    IncludeEntry,
    PracticeFile,
    ProcedureFile,
    StepEntry,
    TimeRef,
    TimerEntry,
)
from sidecue.procedure.source import Document, Fault, Place, Sourced
from sidecue.procedure.time_order import timer_faults
from sidecue.procedure.timing import COMPUTED_CURE
from sidecue.procedure.words import ID_PLACEHOLDERS, placeholders

_TIME = re.compile(r"[a-z0-9-]+\.[a-z0-9-]+")
_ENDS = {
    TimerKind.HARD_MAXIMUM: ("most",),
    TimerKind.HARD_MINIMUM: ("least",),
    TimerKind.WINDOW: ("least", "most"),
    TimerKind.COUNT_DOWN: ("most",),
}


@dataclass(frozen=True)
class _Known:
    """What procedure files may name. None: could not be read, so everything passes."""

    instruments: frozenset[str] | None
    cautions: frozenset[str] | None
    facts: frozenset[str] | None
    times: frozenset[str] | None
    parts: frozenset[str] | None
    timers: frozenset[str] | None
    steps: frozenset[str] | None


def procedure_faults(gathered: Gathered) -> tuple[list[Fault], bool]:
    """Return the faults, and whether the includes are sound enough to be walked."""
    known = _known(gathered)
    sources = gathered.of(ProcedureFile)
    faults = [fault for source in sources for fault in _file(source, known)]
    includes, sound = _includes(gathered, known)
    return faults + includes, sound


def practice_times(gathered: Gathered) -> frozenset[str]:
    """Return the times that some practice here has, such as `etchant.rinse`."""
    return frozenset(
        f"{entry.role}.{name}"
        for _, _, entry in gathered.entries(PracticeFile, "materials")
        for name in entry.times
    )


def _known(gathered: Gathered) -> _Known:
    files = gathered.of(ProcedureFile)
    steps = [step for source in files for _, step, _ in steps_of(source.model)]
    complete = ProcedureFile not in gathered.broken
    times = practice_times(gathered)
    return _Known(
        instruments=None if InstrumentsFile in gathered.broken else frozenset(
            entry.instrument for _, _, entry in gathered.entries(InstrumentsFile, "instruments")
        ),
        cautions=None if CautionsFile in gathered.broken else frozenset(
            entry.caution for _, _, entry in gathered.entries(CautionsFile, "cautions")
        ),
        facts=None if RulesFile in gathered.broken else frozenset(
            entry.fact for _, _, entry in gathered.entries(RulesFile, "facts")
        ),
        times=times if times and PracticeFile not in gathered.broken else None,
        parts=frozenset(source.model.procedure for source in files) if complete else None,
        timers=frozenset(t.timer for step in steps for t in step.timers) if complete else None,
        steps=frozenset(step.step for step in steps) if complete else None,
    )  # fmt: skip


def _file(source: Sourced[ProcedureFile], known: _Known) -> Iterator[Fault]:
    document = source.document
    for place, step, repeated in steps_of(source.model):
        yield from _step(document, place, step, known)
        ids: list[tuple[Place, str]] = [(("step",), step.step)]
        ids += [(("stops",), name) for name in step.stops]
        ids += [(("done-stops",), name) for name in step.done_stops]
        for number, timer in enumerate(step.timers):
            yield from _timer(document, (*place, "timers", number), timer, known)
            ids.append((("timers", number, "timer"), timer.timer))
        for inner, name in ids:
            unknown = set(placeholders(name)) - (ID_PLACEHOLDERS if repeated else set())
            if unknown or re.sub(r"\{n\}", "", name).count("{"):
                yield document.fault(
                    (*place, *inner), f"{name!r} has braces that are not filled in here",
                    "only {n} stands in a name, inside a repeat",
                )  # fmt: skip
    for number, happening in enumerate(source.model.happenings):
        place = ("happenings", number)
        for key, facts in (
            ("voids", happening.voids),
            ("while-any", happening.while_any),
            ("unless", happening.unless),
        ):
            yield from _named(document, (*place, key), "fact", facts, known.facts)
        steps = [happening.back_to]
        yield from _named(document, (*place, "back-to"), "step", steps, known.steps)


def _step(document: Document, place: Place, step: StepEntry, known: _Known) -> Iterator[Fault]:
    for key, choices in (("hand", step.hand), ("lay", step.lay)):
        for number, choice in enumerate(choices):
            name = choice.use if isinstance(choice, HandChoice) else choice
            where = (*place, key, number)
            yield from _named(document, where, "instrument", [name], known.instruments)
    yield from _named(document, (*place, "caution"), "caution", step.caution, known.cautions)
    for key, facts in (
        ("needs", step.needs),
        ("establishes", step.establishes),
        ("voids", step.voids),
    ):
        yield from _named(document, (*place, key), "fact", facts, known.facts)
    if step.settles and not step.asks:
        what = f"step {step.step!r} settles by values and asks for none"
        yield document.fault((*place, "settles"), what, "add `asks:`, or remove `settles:`")
    if step.begin is not None:
        begin = (*place, "begin")
        for key, facts in (("establishes", step.begin.establishes), ("voids", step.begin.voids)):
            yield from _named(document, (*begin, key), "fact", facts, known.facts)
    for key, timers in (("stops", step.stops), ("done-stops", step.done_stops)):
        yield from _named(document, (*place, key), "timer", timers, known.timers)


def _timer(document: Document, place: Place, timer: TimerEntry, known: _Known) -> Iterator[Fault]:
    for end in _ENDS[timer.kind]:
        if getattr(timer, end) is None:
            what = f"a {timer.kind.value} timer has no `{end}`"
            yield document.fault(place, what, f"add `{end}:`")
    for key, reference in (("least", timer.least), ("warn", timer.warn), ("most", timer.most)):
        yield from _time(document, (*place, key), reference, known)
    yield from timer_faults(document, place, timer)
    if timer.no_less_than is not None:
        where = (*place, "no-less-than")
        yield from _named(document, where, "timer", [timer.no_less_than], known.timers)
    if timer.overdue is not None:
        overdue = (*place, "overdue")
        voids = timer.overdue.voids
        yield from _named(document, (*overdue, "voids"), "fact", voids, known.facts)
        if timer.overdue.back_to is not None:
            back = [timer.overdue.back_to]
            yield from _named(document, (*overdue, "back-to"), "step", back, known.steps)


def _time(
    document: Document, place: Place, reference: TimeRef | None, known: _Known
) -> Iterator[Fault]:
    if isinstance(reference, float) and reference <= 0:
        yield document.fault(place, f"a time of {reference:g} seconds", "write more than 0")
    if not isinstance(reference, str) or reference == COMPUTED_CURE:
        return
    if not _TIME.fullmatch(reference) or reference.startswith("computed."):
        yield document.fault(
            place, f"{reference!r} is not a time",
            "write seconds, a material's time such as etchant.rinse, or computed.cure",
        )  # fmt: skip
    elif known.times is not None and reference not in known.times:
        what = f"no practice here has the time {reference!r}"
        yield document.fault(place, what, suggest(reference, known.times))


def _includes(gathered: Gathered, known: _Known) -> tuple[list[Fault], bool]:
    """Return unknown, circular and unused includes, and whether a walk would end."""
    faults: list[Fault] = []
    files = {source.model.procedure: source for source in gathered.of(ProcedureFile)}
    ways: dict[str, list[tuple[Place, str]]] = {
        name: [
            (("steps", number, "include"), entry.include)
            for number, entry in enumerate(source.model.steps)
            if isinstance(entry, IncludeEntry)
        ]
        for name, source in files.items()
    }
    sound = True
    reached: set[str] = set(gathered.visit_ids())
    for name, source in files.items():
        for place, included in ways[name]:
            if included not in files:
                sound = False
                found = _named(source.document, place, "include", [included], known.parts)
                faults += found
            elif name in _below(ways, included):
                sound = False
                what = f"{name!r} includes itself through {included!r}"
                faults.append(source.document.fault(place, what, "break the circle"))
        if name in reached:
            reached |= _below(ways, name)
    if sound and ProcedureFile not in gathered.broken:
        faults += [
            source.document.fault(
                ("procedure",), f"no visit includes {name!r}", "include it, or remove the file"
            )
            for name, source in files.items()
            if name not in reached
        ]
    return faults, sound


def _below(ways: dict[str, list[tuple[Place, str]]], name: str) -> set[str]:
    """Return `name` and everything it includes, directly or not."""
    found: set[str] = set()
    open_names = [name]
    while open_names:
        here = open_names.pop()
        if here not in found:
            found.add(here)
            open_names += [included for _, included in ways.get(here, ())]
    return found


def _named(
    document: Document, place: Place, kind: str, names: Iterable[str], known: frozenset[str] | None
) -> Iterator[Fault]:
    if known is None:
        return
    for name in names:
        if name not in known:
            yield document.fault(place, f"unknown {kind} {name!r}", suggest(name, known))
