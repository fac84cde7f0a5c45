"""Which states can still reach an end."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence


def dead_ends(following: Sequence[Iterable[int]], ends: Iterable[int]) -> list[int]:
    """Return the states, in the order given, from which none of `ends` can be reached.

    `following` gives, for each state, those that can come next.
    """
    before: list[list[int]] = [[] for _ in following]
    for number, others in enumerate(following):
        for each in others:
            before[each].append(number)
    left = list(ends)
    finishing = set(left)
    while left:
        for number in before[left.pop()]:
            if number not in finishing:
                finishing.add(number)
                left.append(number)
    return [n for n in range(len(before)) if n not in finishing]


def finishing(following: Sequence[Mapping[int, int]], ends: Mapping[int, int]) -> list[int]:
    """Return, for each state, the plans that can still finish from it, as bits.

    `following` gives, for each state, those that can come next, each with the plans that can go
    there; `ends` the plans that are at an end.
    """
    before: list[list[tuple[int, int]]] = [[] for _ in following]
    for number, others in enumerate(following):
        for each, plans in others.items():
            before[each].append((number, plans))
    can = [0] * len(before)
    new = dict(ends)
    while new:
        at, plans = new.popitem()
        plans &= ~can[at]
        can[at] |= plans
        for number, through in before[at]:
            more = plans & through & ~can[number]
            if more:
                new[number] = new.get(number, 0) | more
    return can
