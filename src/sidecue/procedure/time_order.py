"""Times that must follow one another: a warning before the end, a least before a most.

A timer whose warning is due after its end would never warn, and nobody would miss it: the file that
holds the number is told.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sidecue.procedure.library import steps_of
from sidecue.procedure.plan import TimerKind
from sidecue.procedure.practice import seconds_of
from sidecue.procedure.schema import (
    MaterialEntry,
    PracticeFile,
    ProcedureFile,
    TimeRef,
    TimerEntry,
)
from sidecue.procedure.source import Document, Fault, Place, Sourced

_CHECK = "read the instructions again"
_EARLIER = ("least", "warn")


@dataclass(frozen=True, slots=True)
class Order:
    """One end of a timer that may not come after another; `apart` when not with it either."""

    timer: str
    end: str  # "least" or "warn"
    earlier: TimeRef
    later: TimeRef
    apart: bool

    def broken(self, earlier: float, later: float) -> bool:
        """Return whether these seconds are in the wrong order."""
        return earlier > later or (self.apart and earlier == later)

    @property
    def why(self) -> str:
        """What comes of it."""
        if self.end == "warn":
            return f"timer {self.timer!r} would never warn"
        return f"timer {self.timer!r} could not be kept"


def orders_of(timer: TimerEntry) -> Iterator[Order]:
    """Yield what must come before the end of a timer. A count-down may warn as it ends: it only
    tells the time."""
    if timer.most is None:
        return
    for end in _EARLIER:
        earlier = getattr(timer, end)
        if earlier is not None:
            apart = end == "warn" and timer.kind is not TimerKind.COUNT_DOWN
            yield Order(timer.timer, end, earlier, timer.most, apart)


def time_orders(files: Iterable[ProcedureFile]) -> tuple[Order, ...]:
    """Return every order of times that the timers of these files ask for, each once."""
    found = (
        order
        for file in files
        for _, step, _ in steps_of(file)
        for timer in step.timers
        for order in orders_of(timer)
    )
    return tuple(dict.fromkeys(found))


def timer_faults(document: Document, place: Place, timer: TimerEntry) -> Iterator[Fault]:
    """Yield the plain seconds of a procedure's timer that are in the wrong order."""
    for order in orders_of(timer):
        early, late = order.earlier, order.later
        if isinstance(early, float) and isinstance(late, float) and order.broken(early, late):
            what = f"{order.end!r} is {early:g} s and 'most' is {late:g} s, so {order.why}"
            mend = f"make `{order.end}` the shorter time"
            yield document.fault((*place, order.end), what, mend)


def practice_time_faults(source: Sourced[PracticeFile], orders: Iterable[Order]) -> Iterator[Fault]:
    """Yield the times of products that are in the wrong order, each pair of numbers once."""
    told: set[tuple[Place, TimeRef]] = set()
    for order in orders:
        for number, entry in enumerate(source.model.materials):
            found = _fault(("materials", number), entry, order)
            if found is not None and (found[0], order.later) not in told:
                told.add((found[0], order.later))
                yield source.document.fault(found[0], found[1], _CHECK)


def _fault(place: Place, entry: MaterialEntry, order: Order) -> tuple[Place, str] | None:
    """Return where and what is wrong with one product; None where it is none of its times."""
    early, late = (_of(entry, each) for each in (order.earlier, order.later))
    if early is None or late is None or not order.broken(early[1], late[1]):
        return None
    named = [each for each in (early[0], late[0]) if each]
    if not named:
        return None  # plain seconds are the procedure's own fault
    words = " and ".join(
        f"{name!r} is {entry.times[name]}" if name else f"the procedure says {seconds:g} s"
        for name, seconds in (early, late)
    )
    return (*place, "times", named[0]), f"{words}, so {order.why}"


def _of(entry: MaterialEntry, reference: TimeRef) -> tuple[str, float] | None:
    """Return the name and the seconds of a time of this product; plain seconds have no name."""
    if isinstance(reference, float):
        return "", reference
    role, _, name = reference.partition(".")
    written = entry.times.get(name) if role == entry.role else None
    try:
        return None if written is None else (name, seconds_of(written))
    except ValueError:
        return None  # told as what it is: not a time
