"""The practice's overlay on a procedure: favourites, wording, optional steps left out.

It may change what is handed and how it is said. It never weakens an interlock: what would is
refused by name, and the step stays.
"""

from __future__ import annotations

from collections.abc import Sequence

from sidecue.procedure.appraisal import Appraisal
from sidecue.procedure.expansion import Expanded
from sidecue.procedure.interlocks import CaseFacts, violations
from sidecue.procedure.plan import Notice, Rule
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import StepEntry
from sidecue.procedure.words import MOST_WORDS, longest, unknown_placeholders, unpaired

OWN_FILE = "the practice's own file"


def kept_steps(
    steps: Sequence[Expanded],
    practice: Practice,
    rules: Sequence[Rule],
    case_facts: CaseFacts,
    found: Appraisal,
) -> tuple[Expanded, ...]:
    """Return the steps without those the practice leaves out; refusals go to `found.blocks`.

    Steps that need each other go together or not at all, so all are tried at once first.
    """
    kept = tuple(steps)
    optional: list[str] = []
    for name in practice.leave_out:
        named = [step.entry.optional for step in kept if step.entry.step == name]
        if named and not all(named):
            found.block(_kept(name, "it is not optional"))
        elif named:
            optional.append(name)
    if not optional:
        return kept
    sound = set(unmet(kept, rules, case_facts))
    for names in (optional, *([name] for name in optional)):
        without = tuple(step for step in kept if step.entry.step not in names)
        if len(without) == len(kept):
            continue  # left out already, with the others
        new = [each for each in unmet(without, rules, case_facts) if each not in sound]
        if not new:
            kept = without
        elif len(names) == 1:
            found.block(_kept(names[0], new[0]))
    return kept


def _kept(name: str, why: str) -> Notice:
    return Notice(f"leave-out: step {name!r} cannot be left out, {why}", OWN_FILE)


def worded(entry: StepEntry, practice: Practice, found: Appraisal) -> str:
    """Return the prompt of a step as this practice words it, still to be filled in."""
    text = practice.wording.get(entry.step)
    if text is None:
        return entry.say
    refusal = wording_fault(text)
    if refusal is None:
        return text
    found.block(Notice(f"wording: the prompt of step {entry.step!r} {refusal}", OWN_FILE))
    return entry.say


def wording_fault(text: str, repeated: bool = True) -> str | None:
    """Return what is wrong with a prompt, or None."""
    if unpaired(text):
        return "has a brace that stands alone"
    unknown = unknown_placeholders(text, repeated)
    if unknown:
        return f"has the unknown word {{{unknown[0]}}}"
    count = longest(text)
    return f"can be {count} words, at most {MOST_WORDS}" if count > MOST_WORDS else None


def unmet(
    steps: Sequence[Expanded], rules: Sequence[Rule], case_facts: CaseFacts
) -> tuple[str, ...]:
    """Return what keeps these steps, done in order, from being done: needs and interlocks."""
    facts: set[str] = set()
    found: list[str] = []
    touched: dict[str, list[int]] = {}  # rules by what can break them: asked of every plan
    for number, rule in enumerate(rules):
        for fact in rule.never if rule.act is None else (rule.act,):
            touched.setdefault(fact, []).append(number)
    for step in steps:
        entry, begin = step.entry, step.entry.begin
        if not facts.issuperset(entry.needs):
            lacking = (need for need in entry.needs if need not in facts)
            found += [f"step {entry.step!r} needs {need!r}" for need in lacking]
        moments = [(entry.establishes, entry.voids)]
        if begin is not None:
            moments.insert(0, (begin.establishes, begin.voids))
        for gained, lost in moments:
            if not touched.keys().isdisjoint(gained):
                numbers = {each for fact in gained for each in touched.get(fact, ())}
                some = [rules[each] for each in sorted(numbers)]
                broken = violations(some, frozenset(facts), gained, case_facts, lost)
                found += [f"step {entry.step!r} breaks rule {rule.id!r}" for rule in broken]
            facts.difference_update(lost)
            facts.update(gained)
    return tuple(found)
