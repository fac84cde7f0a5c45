"""The trade's laws that a procedure is proven against beside its interlocks (`laws.yaml`)."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

import yaml

from sidecue.procedure.interlocks import matches
from sidecue.procedure.library import Library, steps_of
from sidecue.procedure.plan import Plan, Rule, Tier
from sidecue.procedure.schema import TimerEntry
from sidecue.procedure.source import Fault, Place


@dataclass(frozen=True, slots=True)
class UsedUp:
    """Whatever ends `fact` ends each of `takes` with it."""

    fact: str
    takes: tuple[str, ...]
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class NotWhile:
    """`fact` does not come about while one of `facts` holds."""

    fact: str
    facts: tuple[str, ...]
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class MayStay:
    """Facts that a visit may come to its end without, in cases that match `when`."""

    facts: tuple[str, ...]
    when: tuple[tuple[str, tuple[str, ...]], ...]
    why: str
    source: str


@dataclass(frozen=True, slots=True)
class TimeLaw:
    """How a product's time must be guarded: a timer with it as that `end` is of one of `kinds`."""

    time: str
    end: str
    kinds: tuple[str, ...]
    source: str

    def names(self, reference: object) -> bool:
        """Return whether `reference`, as a procedure file writes it, is this time."""
        if not isinstance(reference, str):
            return False
        if self.time.startswith("{any}."):
            return reference.partition(".")[2] == self.time.partition(".")[2]
        return reference == self.time


@dataclass(frozen=True, slots=True)
class Laws:
    """All of them. `never` and `first` are interlocks of the second and the first form; see
    `procedure.plan.Rule`. `read_back` are facts and `read_back_values` slots."""

    never: tuple[Rule, ...]
    first: tuple[Rule, ...]
    not_while: tuple[NotWhile, ...]
    used_up: tuple[UsedUp, ...]
    read_back: frozenset[str]
    read_back_values: frozenset[str]
    may_stay_undone: tuple[MayStay, ...]
    timers: tuple[TimeLaw, ...]  # `time` is the timer's name
    times: tuple[TimeLaw, ...]


@cache
def laws() -> Laws:
    """Return the laws that ship."""
    text = files("sidecue.proof").joinpath("laws.yaml").read_text("utf-8")
    data = yaml.safe_load(text)
    return Laws(
        never=tuple(
            Rule("never-" + "-with-".join(each["facts"]), each["why"], each["source"],
                 never=tuple(each["facts"]))
            for each in data["never-together"]
        ),
        first=tuple(
            Rule(f"first-before-{each['fact']}", each["why"], each["source"], act=each["fact"],
                 needs=tuple(each["needs"]), when=_when(each))
            for each in data["first"]
        ),
        not_while=tuple(
            NotWhile(each["fact"], tuple(each["facts"]), each["why"], each["source"])
            for each in data["not-while"]
        ),
        used_up=tuple(
            UsedUp(each["fact"], tuple(each["takes"]), each["why"], each["source"])
            for each in data["used-up"]
        ),
        read_back=frozenset(fact for each in data["read-back"] for fact in each["facts"]),
        read_back_values=frozenset(
            slot for each in data["read-back-values"] for slot in each["slots"]
        ),
        may_stay_undone=tuple(
            MayStay(tuple(each["facts"]), _when(each), each["why"], each["source"])
            for each in data["may-stay-undone"]
        ),
        timers=_time_laws(data["timers"], "timer"),
        times=_time_laws(data["times"], "time"),
    )  # fmt: skip


def _time_laws(entries: Iterable[dict[str, Any]], named: str) -> tuple[TimeLaw, ...]:
    return tuple(
        TimeLaw(each[named], each["end"], tuple(each["kinds"]), each["source"]) for each in entries
    )


def _when(entry: dict[str, Any]) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple((key, tuple(values)) for key, values in entry.get("when", {}).items())


def beside(plan: Plan) -> tuple[Rule, ...]:
    """Return the laws that have an interlock's form and apply to the case of `plan`."""
    case = dict(plan.case_facts)
    return (*laws().never, *(rule for rule in laws().first if matches(rule.when, case)))


def barred_by(gained: Iterable[str]) -> frozenset[str]:
    """Return the facts that the laws read where `gained` come about: what bars them."""
    return frozenset(_barring(tuple(gained)))


@cache
def _barring(gained: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(f for law in laws().not_while if law.fact in gained for f in law.facts)


def may_stay_undone(plan: Plan) -> frozenset[str]:
    """Return the facts that the visit of `plan` may come to its end without: what its optional
    steps bring about, and what the laws name for its case."""
    case = dict(plan.case_facts)
    optional = {fact for step in plan.steps if step.optional for fact in step.establishes}
    return frozenset(optional).union(
        *(each.facts for each in laws().may_stay_undone if matches(each.when, case))
    )


def time_faults(library: Library) -> Iterator[Fault]:
    """Yield every timer of the library's procedures whose kind does not guard its time."""
    for source in library.procedures.values():
        for place, step, _ in steps_of(source.model):
            for number, timer in enumerate(step.timers):
                where: Place = (*place, "timers", number)
                yield from (
                    source.document.fault(where, what, mend) for what, mend in _unguarded(timer)
                )


def _unguarded(timer: TimerEntry) -> Iterator[tuple[str, str]]:
    for law in laws().timers:
        if law.time == timer.timer and timer.kind.value not in law.kinds:
            what = f"timer {timer.timer!r} is a {timer.kind.value}"
            yield what, f"make it a {' or '.join(law.kinds)} ({law.source})"
    given = {"least": timer.least, "most": timer.most}
    for end, reference in given.items():
        for law in laws().times:
            if not law.names(reference):
                continue
            if end != law.end or timer.kind.value not in law.kinds:
                yield (
                    f"timer {timer.timer!r} has {reference} as its `{end}` of a {timer.kind.value}",
                    f"make it the `{law.end}` of a {' or '.join(law.kinds)} ({law.source})",
                )
            break


def read_back_lacking(plan: Plan) -> Iterator[str]:
    """Yield the steps that bring about what must be read back, and are not."""
    for step in plan.steps:
        if step.done.tier is Tier.GUARDED:
            continue
        facts = laws().read_back.intersection(step.establishes)
        if facts:
            yield f"step {step.id!r} brings about {min(facts)!r} without a read-back"
        values = laws().read_back_values.intersection(step.asks)
        if values:
            yield f"step {step.id!r} asks for the {min(values)} and is not read back"
