"""Conditions as text, folded while they are built, and what is known of the facts meanwhile.

A condition is True, False or text. The text keeps to what ECMAScript and Python read alike:
numbers, comparisons, `&&`, `||`; so that a facts' truth is 1 or 0, never `true`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from sidecue.procedure.plan import Plan, Rule

Cond = bool | str


def both(*conditions: Cond) -> Cond:
    """Return that all `conditions` hold."""
    texts = [each for each in conditions if not isinstance(each, bool)]
    if any(each is False for each in conditions):
        return False
    return " && ".join(dict.fromkeys(texts)) if texts else True


def either(*conditions: Cond) -> Cond:
    """Return that one of `conditions` holds."""
    texts = list(dict.fromkeys(each for each in conditions if not isinstance(each, bool)))
    if any(each is True for each in conditions):
        return True
    if len(texts) < 2:
        return texts[0] if texts else False
    return f"({' || '.join(f'({each})' if ' && ' in each else each for each in texts)})"


def opposite(condition: Cond) -> Cond:
    """Return that a single flag (`f_etched == 1`) has its other value."""
    if isinstance(condition, bool):
        return not condition
    name, value = condition.split(" == ")
    return f"{name} == {1 - int(value)}"


def within(numbers: Iterable[int], name: str = "spot") -> Cond:
    """Return that the variable `name` is one of `numbers`, told in runs."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    told = (
        f"{name} == {low}" if low == high else f"{name} >= {low} && {name} <= {high}"
        for low, high in runs
    )  # fmt: skip
    return either(*told)


def flag(fact: str) -> str:
    """Return the variable of a fact."""
    return f"f_{fact.replace('-', '_')}"


class Known:
    """What is known of each fact: true, false, or what its flag says now."""

    def __init__(self, facts: Mapping[str, Cond]) -> None:
        self._facts = dict(facts)

    @classmethod
    def now(cls, plan: Plan) -> Known:
        """Return that every fact some step establishes is as its flag says; the others never."""
        return cls({fact: f"{flag(fact)} == 1" for fact in gainable(plan)})

    def of(self, fact: str) -> Cond:
        """Return what is known of `fact`."""
        return self._facts.get(fact, False)

    def after(self, lost: Iterable[str], gained: Iterable[str]) -> Known:
        """Return what is known after `lost` were lost and then `gained` gained."""
        changed = dict.fromkeys(lost, False) | dict.fromkeys(gained, True)
        return Known(self._facts | changed)

    def all_of(self, facts: Iterable[str]) -> Cond:
        """Return that all of `facts` hold."""
        return both(*(self.of(fact) for fact in facts))


def gainable(plan: Plan) -> tuple[str, ...]:
    """Return the facts that some step of `plan` establishes, in order of the plan's own list."""
    gained = {f for step in plan.steps for f in (*step.begin_establishes, *step.establishes)}
    return tuple(fact.id for fact in plan.facts if fact.id in gained)


def unbroken(
    rules: Iterable[Rule], before: Known, gained: Mapping[str, Cond], lost: Iterable[str]
) -> Cond:
    """Return that gaining each of `gained` where its condition holds, and losing `lost`, breaks
    no rule: `procedure.interlocks.violations` worked out as far as the plan decides it.
    """
    losing = frozenset(lost)
    kept: list[Cond] = []
    for rule in rules:
        if rule.act is not None and rule.act in gained:
            kept.append(either(opposite(gained[rule.act]), before.all_of(rule.needs)))
        new = [gained[fact] for fact in rule.never if fact in gained]
        if new:
            others = [
                False if fact in losing else before.of(fact)
                for fact in rule.never
                if fact not in gained
            ]
            absent = [opposite(each) for each in others]
            # What is gained anew holds afterwards; what was held already does, unless it is lost.
            absent += [
                opposite(gained[fact]) for fact in rule.never if fact in gained and fact in losing
            ]
            kept.append(either(*absent, both(*(opposite(each) for each in new))))
    return both(*kept)
