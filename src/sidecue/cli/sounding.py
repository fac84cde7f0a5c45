"""Cues that sound alike, looked for in plans and told in lines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.own_words import own_pairs
from sidecue.procedure.nearness import LEAST_APART, Lint, lint
from sidecue.procedure.plan import Plan
from sidecue.procedure.vocabulary import all_cues
from sidecue.session.situations import situations


def sounds_of(plans: Sequence[Plan]) -> Lint:
    """Return the vocabulary lint of `plans`, in the lexicon of the engine that comes with us
    and the pronunciations that were added."""
    files: dict[str, str] = {}
    for plan in plans:
        for where, cue in all_cues(plan):
            files.setdefault(cue.id, f"{where}.yaml")
    spoken = sorted({each for plan in plans for each in plan.pronunciations})
    met = [(f"{plan.procedure}, {name}", cues) for plan in plans for name, cues in situations(plan)]
    found = lint(met, Lexicon(spoken).spell, files)
    added = own_pairs()
    if not added:
        return found
    # A word that was taught is heard in both ways: neither may sound like another cue.
    taught = lint(met, Lexicon((*added, *spoken)).spell, files)
    told = {str(trap) for trap in found.traps}
    fresh = tuple(trap for trap in taught.traps if str(trap) not in told)
    return replace(taught, traps=(*found.traps, *fresh))


def sound_lines(found: Lint) -> Iterator[str]:
    """Yield a line on the whole, then one on each fault, the worst first."""
    yield (
        f"sound: {found.pairs} pairs of phrases active together, {len(found.traps)} under "
        f"{LEAST_APART} apart or beginning alike"
    )
    yield from (f"  {trap}" for trap in found.traps)
    if found.homophones:
        yield f"  homophones: {', '.join('/'.join(words) for words in found.homophones)}"
