"""What came of a sitting of tuning, in lines for a person."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from sidecue.conductor.sitting import Sitting
from sidecue.hearing.rewording import Confusion
from sidecue.hearing.tuning import (
    Expected,
    Share,
    Thresholds,
    Trial,
    at_thresholds,
    expected,
)
from sidecue.procedure.nearness import LEAST_APART
from sidecue.procedure.plan import Tier

POOR = 3  # where more than one in so many was not heard well, it is the sound
LITTLE = 3.0  # events that none seen still leaves open (95 %): the rule of three


def verdict(trial: Trial, thresholds: Thresholds) -> str:
    """Return what became of one phrase, in a few words."""
    if trial.right and not trial.missed(thresholds):
        return f"heard ({trial.score:.2f})"
    if trial.right:
        return f"heard, but not sure enough ({trial.score:.2f})"
    if trial.misread:
        sure = "taken for" if trial.acted_wrongly(thresholds) else "sounded more like"
        return f'{sure} "{trial.read_as}" ({trial.score:.2f})'
    return f'sounded more like "{trial.read_as}"' if trial.read_as else "nothing heard"


def told(sitting: Sitting, shipped: Thresholds, chosen: Thresholds) -> Iterator[str]:
    """Yield the thresholds and what is to be expected of them."""
    trials, talk = sitting.trials, sitting.talk
    worth = expected(trials, talk, shipped)
    yield "tier      threshold         phrases missed         talk taken for a cue"
    for tier in Tier:
        here = worth.tiers[tier]
        change = f"{shipped[tier]:.3f} -> {chosen[tier]:.3f}"
        if chosen[tier] == shipped[tier]:
            change = f"{shipped[tier]:.3f} as it was"
        yield f"{tier.value:8}  {change:16}  {share(here.missed):21}  {share(here.taken)}"
    yield f"expected    {_whole(worth.whole)}"
    before = at_thresholds(trials, talk, shipped)
    if dict(chosen) == dict(shipped):
        yield "This voice in this room asks for no other thresholds than the shipped ones."
    else:
        yield f"as shipped  {_whole(before)}"
    yield (
        "In brackets what holds the true share 95 times in 100: so few phrases leave much open.\n"
        "Each was judged by thresholds that were set without it."
    )
    yield _rare(sitting)


def measured(sitting: Sitting, thresholds: Thresholds) -> Iterator[str]:
    """Yield what an engine that cannot be tuned made of it."""
    yield f"measured    {_whole(at_thresholds(sitting.trials, sitting.talk, thresholds))}"
    yield "In brackets what holds the true share 95 times in 100."


def _whole(found: Expected) -> str:
    return (
        f"missed {share(found.missed)}, acted on as another cue {share(found.mistaken)}, "
        f"talk taken {share(found.taken)}"
    )


def share(found: Share) -> str:
    """Return a share as a count with its interval."""
    low, high = found.interval
    if found.of == 0:
        return "not tried"
    return f"{found.count} of {found.of} ({100 * low:.0f}-{100 * high:.0f} %)"


def _rare(sitting: Sitting) -> str:
    if sitting.talked <= 0:
        return "No ordinary talk was heard: nothing was lowered."
    hourly = LITTLE * 3600 / sitting.talked
    return (
        f"{len(sitting.talk)} stretches of talk in {sitting.talked:.0f} s show only what is "
        f"frequent:\nafter none in such a while, {hourly:.0f} false actions an hour of talk are "
        "still possible."
    )


def confusion_lines(confusions: Sequence[Confusion], of: int) -> Iterator[str]:
    """Yield two lines for each phrase, of as many as were said, that was not heard well."""
    if POOR * len(confusions) > of:
        yield (
            f"{len(confusions)} of {of} phrases were not heard well: that is the sound rather than "
            "the words.\nA microphone 3 to 5 cm from the mouth is worth more than other words."
        )
    yield "Not heard well, and what to say instead:"
    for each in confusions:
        yield f'  "{each.trial.phrase}" {_why(each.trial)}'
        yield f"      {_instead(each)}"
    yield "Is a word of these said otherwise here? `sidecue say-word WORD` plays it as expected."


def _why(trial: Trial) -> str:
    if trial.misread:
        return f'was taken for "{trial.read_as}" ({trial.score:.2f})'
    if trial.right:
        return f"was heard, but not surely ({trial.score:.2f})"
    if trial.read_as == trial.phrase:
        return "was heard, but not the address phrase before it"
    return f'sounded more like "{trial.read_as}", no cue' if trial.read_as else "was not heard"


def _instead(confusion: Confusion) -> str:
    phrases = " or ".join(f'"{phrase}"' for phrase in confusion.better)
    if confusion.proven:
        return f"say {phrases}: heard well from you"
    if phrases:
        return f"try {phrases}: not tried by you, but {LEAST_APART} or more from other cues"
    return "no other phrase of it is far from other cues: say it slower, or reword it in a flow"
