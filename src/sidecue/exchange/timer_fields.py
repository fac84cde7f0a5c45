"""A running timer as one array in the data of the document, and what is asked of it.

0 while it does not run; else the fields below. It is never changed in place, so that an undo may
keep the array itself. Times that a timer has not are -1.
"""

from __future__ import annotations

from sidecue.exchange.conditions import Cond, both, either
from sidecue.procedure.plan import TimerKind, TimerSpec
from sidecue.session.timers import ALARMING, HOLDING, TOLERANCE

STEP, STARTED, LEAST, WARN, MOST, WARNED, RIPE, OVERDUE, HOLDS, ALARMS, MAXIMUM = range(11)
NONE = "-1"


def variable(name: str) -> str:
    """Return the variable of the timer `name`."""
    return f"t_{name.replace('-', '_')}"


def ran(name: str) -> str:
    """Return the variable that keeps how long the timer `name` ran last."""
    return f"ran_{name.replace('-', '_')}"


def field(name: str, number: int) -> str:
    """Return a field of the timer `name`."""
    return f"{variable(name)}[{number}]"


def seconds(value: float | None) -> str:
    """Return a time as a number, -1 for none."""
    return NONE if value is None else repr(float(value))


def fresh(spec: TimerSpec, step: int, least: str) -> str:
    """Return the array of `spec`, started now by step number `step`."""
    marks = (spec.kind in HOLDING, spec.kind in ALARMING, spec.kind is TimerKind.HARD_MAXIMUM)
    rest = f"{seconds(spec.warn)}, {seconds(spec.most)}, 0, 0, 0"
    return f"[{step}, now, {least}, {rest}, {', '.join(str(int(mark)) for mark in marks)}]"


def marked(name: str, *numbers: int) -> str:
    """Return the array of a timer with the fields `numbers` set to 1."""
    fields = ("1" if number in numbers else field(name, number) for number in range(11))
    return f"[{', '.join(fields)}]"


def off(name: str) -> str:
    """Return that a timer does not run."""
    return f"{variable(name)} == 0"


def runs(name: str) -> str:
    """Return that a timer runs."""
    return f"{variable(name)} != 0"


def held(name: str) -> Cond:
    """Return that a timer forbids its own end, as `session.timers.held_for` has it."""
    return both(
        runs(name), f"{field(name, HOLDS)} == 1", f"{field(name, LEAST)} >= 0",
        f"{_left(name)} > {TOLERANCE}",
    )  # fmt: skip


def not_held(name: str) -> Cond:
    """Return that a timer does not forbid its own end."""
    return either(
        off(name), f"{field(name, HOLDS)} == 0", f"{field(name, LEAST)} < 0",
        f"{_left(name)} <= {TOLERANCE}",
    )  # fmt: skip


def spoils_first(name: str, other: str) -> Cond:
    """Return that waiting for what `name` still wants would carry `other` past its maximum."""
    end = f"{field(other, STARTED)} + {field(other, MOST)}"
    return both(
        runs(other), f"{field(other, MAXIMUM)} == 1", f"{field(other, MOST)} >= 0",
        f"now + ({_left(name)}) > {end} + {TOLERANCE}",
    )  # fmt: skip


def _left(name: str) -> str:
    return f"{field(name, STARTED)} + {field(name, LEAST)} - now"
