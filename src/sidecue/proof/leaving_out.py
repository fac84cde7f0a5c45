"""What a plan lets be left out: optional steps, and what the laws let stay undone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sidecue.procedure.plan import Plan
from sidecue.proof.demands import Bits, Demand, demands
from sidecue.proof.laws import may_stay_undone
from sidecue.session.listening import ahead_of, watched


def wrongly_left_out(
    plan: Plan, bits: Bits, following: Sequence[Demand] | None = None
) -> Iterator[str]:
    """Yield each skip and jump that the plan allows though what it leaves out must be done.
    `following` are the plan's demands in `bits`, where somebody knows them already.

    Every step is met with all before it done, which is when most is allowed: of a skip the machine
    asks that every later step can still be done with the facts that hold. What is left out counts
    as a whole: a layer with its light leaves the tooth as it found it. That the machine refuses
    what is not allowed here, in any state, the walk shows (`asking.FORESEEN`).
    """
    following = demands(plan, bits) if following is None else following
    watch, steps = watched(plan), plan.steps
    undone = bits.of(may_stay_undone(plan))
    does = [
        tuple(map(bits.of, (each.begin_voids, each.begin_establishes, each.voids,
                            each.establishes)))
        for each in steps
    ]  # fmt: skip
    facts = 0
    for here, step in enumerate(steps):
        for there in (here + 1, *ahead_of(here, watch, len(steps))):
            if not following[there].met(facts):
                continue
            after = facts
            for begin_lost, begun, lost, gained in does[here:there]:
                after = (after & ~begin_lost | begun) & ~lost | gained
            lacking = after & ~facts & ~undone
            if lacking:
                left = step.id if there == here + 1 else f"{step.id} to {steps[there - 1].id}"
                yield f"{left} can be left out, without {min(bits.facts(lacking))}"
        begin_lost, begun, lost, gained = does[here]
        facts = (facts & ~begin_lost | begun) & ~lost | gained
