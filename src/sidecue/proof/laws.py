"""The trade's laws that a procedure is proven against beside its interlocks (`laws.yaml`)."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import yaml

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
    """All of them. `never` are interlocks of the second form; see `procedure.plan.Rule`."""

    never: tuple[Rule, ...]
    used_up: tuple[UsedUp, ...]
    read_back: frozenset[str]
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
        used_up=tuple(
            UsedUp(each["fact"], tuple(each["takes"]), each["why"], each["source"])
            for each in data["used-up"]
        ),
        read_back=frozenset(fact for each in data["read-back"] for fact in each["facts"]),
        times=tuple(
            TimeLaw(each["time"], each["end"], tuple(each["kinds"]), each["source"])
            for each in data["times"]
        ),
    )  # fmt: skip


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
        facts = laws().read_back.intersection(step.establishes)
        if facts and step.done.tier is not Tier.GUARDED:
            yield f"step {step.id!r} brings about {min(facts)!r} without a read-back"
