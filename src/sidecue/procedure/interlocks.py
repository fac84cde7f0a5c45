"""Interlocks: the one function that judges whether facts may be gained.

The same code stands at loading (every variant is walked), at run time (before a fact is gained)
and in exploration. A rule has one of two forms, see `plan.Rule`:

- *act needs*: the act may happen only while all its needs already hold. What is gained in the
  same moment does not count: a clamp is tied before it is placed, not with it.
- *never together*: after the moment, not all of these facts hold.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sidecue.procedure.plan import Rule

CaseFacts = Mapping[str, tuple[str, ...]]


def matches(when: Iterable[tuple[str, Iterable[str]]], case_facts: CaseFacts) -> bool:
    """Return whether the case has, for every named key, at least one of the values."""
    for key, values in when:
        here = case_facts.get(key, ())
        if not any(value in here for value in values):
            return False
    return True


def violations(
    rules: Iterable[Rule],
    before: frozenset[str],
    gained: Iterable[str],
    case_facts: CaseFacts,
    lost: Iterable[str] = (),
) -> tuple[Rule, ...]:
    """Return the rules that gaining `gained` (and losing `lost`) after `before` would break.

    A fact both lost and gained holds afterwards.
    """
    new = frozenset(gained)
    if not new:
        return ()
    after = (before - frozenset(lost)) | new
    return tuple(
        rule
        for rule in rules
        if (
            (rule.act in new and not before.issuperset(rule.needs))
            or (
                bool(rule.never) and not new.isdisjoint(rule.never) and after.issuperset(rule.never)
            )
        )
        and matches(rule.when, case_facts)
    )
