"""What a step is held by: its needs, what it brings about, its timers, what comes to need it later,
and who says so."""

from __future__ import annotations

from collections.abc import Iterator

from sidecue.procedure.interlocks import matches
from sidecue.procedure.plan import Plan, Rule, Step, TimerSpec


def explained(plan: Plan, name: str) -> Iterator[tuple[str, str]]:
    """Yield headings and texts about step `name` of `plan`. Raises KeyError when it has none."""
    step = plan.steps[plan.step_index[name]]
    number = plan.step_index[name] + 1
    yield "step", f"{step.id}, {number} of {len(plan.steps)}, from {step.part}"
    yield "says", step.say
    yield "why", step.why
    if step.begin is not None:
        yield "begins with", " or ".join(f'"{phrase}"' for phrase in step.begin.phrases)
    yield "done with", " or ".join(f'"{phrase}"' for phrase in step.done.phrases)
    for fact in step.needs:
        yield "needs", f"{_text(plan, fact)} ({_from(plan, fact, number - 1)})"
    for fact in (*step.begin_establishes, *step.establishes):
        kind = "done to the patient or the material" if plan.fact_by_id[fact].physical else "said"
        yield "establishes", f"{_text(plan, fact)} ({kind})"
    for fact in (*step.begin_voids, *step.voids):
        yield "ends", _text(plan, fact)
    for spec in step.timers:
        yield "timer", _timer(spec)
    for timer in (*step.stops, *step.done_stops):
        yield "stops", f"the timer {timer}"
    for rule in holding(plan, step):
        yield "held by", f"{rule.id}: {_rule(plan, rule)} Source: {rule.source}."
    for rule, later in resting(plan, step):
        yield "needed by", f"{later.id}, {rule.id}: {_rule(plan, rule)} Source: {rule.source}."
    for fact, later in _asked_for(plan, step):
        yield "needed by", f"{later.id}: {_text(plan, fact)}"
    for caution in (plan.caution_by_id[name] for name in step.cautions):
        yield "caution", f"{caution.text} Source: {caution.source}."
    for happening in plan.happenings:
        if happening.back_to == step.id:
            yield "comes back here", f'"{happening.cue.phrases[0]}": {happening.say}'


def holding(plan: Plan, step: Step) -> tuple[Rule, ...]:
    """Return the interlocks that can refuse `step` in the case of `plan`. One of the *never* form
    whose other facts nothing in the plan establishes can never refuse."""
    gained = _gained(step)
    possible = {fact for each in plan.steps for fact in _gained(each)}
    return tuple(
        rule
        for rule in _applying(plan)
        if rule.act in gained
        or (not gained.isdisjoint(rule.never) and possible.issuperset(rule.never))
    )


def resting(plan: Plan, step: Step) -> Iterator[tuple[Rule, Step]]:
    """Yield the interlocks that need what `step` establishes, each with the first later step that
    it would refuse."""
    gained = _gained(step)
    later = plan.steps[plan.step_index[step.id] + 1 :]
    for rule in _applying(plan):
        if not gained.isdisjoint(rule.needs):
            held = next((each for each in later if rule.act in _gained(each)), None)
            if held is not None:
                yield rule, held


def _asked_for(plan: Plan, step: Step) -> Iterator[tuple[str, Step]]:
    """Yield what `step` establishes and a later step needs for itself, with the first such one."""
    later = plan.steps[plan.step_index[step.id] + 1 :]
    for fact in (*step.begin_establishes, *step.establishes):
        needing = next((each for each in later if fact in each.needs), None)
        if needing is not None:
            yield fact, needing


def _applying(plan: Plan) -> Iterator[Rule]:
    case = dict(plan.case_facts)
    return (rule for rule in plan.rules if matches(rule.when, case))


def _gained(step: Step) -> frozenset[str]:
    return frozenset((*step.begin_establishes, *step.establishes))


def _rule(plan: Plan, rule: Rule) -> str:
    if rule.act is not None:
        needs = ", ".join(_text(plan, fact) for fact in rule.needs)
        return f"{_text(plan, rule.act)} only after {needs}."
    return f"never together: {', '.join(_text(plan, fact) for fact in rule.never)}."


def _text(plan: Plan, fact: str) -> str:
    return plan.fact_by_id[fact].text


def _from(plan: Plan, fact: str, before: int) -> str:
    for step in reversed(plan.steps[:before]):
        if fact in (*step.begin_establishes, *step.establishes):
            return f"from {step.id}"
    return "nothing before establishes it"


def _timer(spec: TimerSpec) -> str:
    ends = [
        f"{word} {seconds:g} s"
        for word, seconds in (("at least", spec.least), ("warns at", spec.warn),
                              ("at most", spec.most))
        if seconds is not None
    ]  # fmt: skip
    told = f"{spec.name}, {spec.kind.value}: {', '.join(ends)}"
    if spec.no_less_than is not None:
        told += f", and no less than {spec.no_less_than} ran"
    if spec.overdue_voids:
        told += f"; too late spoils {', '.join(spec.overdue_voids)}"
    return f"{told} ({spec.source})" if spec.source else told
