"""Made-up procedures of any length, in the shape of real ones."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from sidecue.procedure.plan import (
    Cue,
    Fact,
    Happening,
    Plan,
    Rule,
    Step,
    Tier,
    TimerKind,
    TimerSpec,
)

_LETTERS = "abcdefghij"


def _word(number: int) -> str:
    return "".join(_LETTERS[int(digit)] for digit in str(number))


def _cue(name: str, number: int) -> Cue:
    return Cue(f"{name}-{number}", (f"{name} {_word(number)}",), Tier.ADVANCE, "done")


def _steps(count: int) -> Iterator[Step]:
    """Yield steps that need the one before; each tenth is timed, each seventh can be left out."""
    last = ""
    for number in range(count):
        fact = f"fact-{number}"
        step = Step(
            id=f"step-{number}", part="made-up", say="Do it.", why="It comes now.",
            done=_cue("done", number), needs=(last,) if last else (), establishes=(fact,),
            optional=number % 7 == 3 or number == count - 1,
        )  # fmt: skip
        if number % 10 == 5:
            timer = TimerSpec(f"timer-{number}", TimerKind.HARD_MINIMUM, least=20.0)
            step = replace(step, begin=_cue("begin", number), timers=(timer,))
        if number % 7 != 3:
            last = fact
        yield step


def long_plan(model: Plan, count: int) -> Plan:
    """Return a plan of `count` steps with the general cues and prompts of `model`: ten interlocks
    and, every twenty steps, a happening that goes back a few."""
    steps = tuple(_steps(count))
    every = max(1, count // 10)
    rules = tuple(
        Rule(f"rule-{number}", "First the other.", "made up", act=f"fact-{number}",
             needs=(f"fact-{number - 1}",))
        for number in range(1, count, every)
        if (number - 1) % 7 != 3
    )  # fmt: skip
    happenings = tuple(
        Happening(replace(_cue("spoilt", number), tier=Tier.GUARDED), "Do it again.",
                  voids=(f"fact-{number}",), back_to=f"step-{number}",
                  while_any=(f"fact-{number}",), unless=(f"fact-{number + 3}",))
        for number in range(2, count - 4, 20)
        if number % 7 not in (3, 0) and (number + 3) % 7 != 3
    )  # fmt: skip
    return replace(
        model, steps=steps, happenings=happenings, rules=rules, slots=(), cautions=(),
        facts=tuple(Fact(f"fact-{number}", f"fact {number}") for number in range(count)),
    )  # fmt: skip
