"""A small vocabulary with every tier, and decoys near to it."""

from sidecue.hearing.port import Vocabulary
from sidecue.procedure.plan import Cue, Tier


def cue(phrase: str, tier: Tier = Tier.ADVANCE) -> Cue:
    return Cue(phrase.replace(" ", "-"), (phrase,), tier, phrase)


ENGLISH = Vocabulary(
    cues=(
        cue("rinse done"),
        cue("matrix sealed"),
        cue("clamp seated"),
        cue("how long left", Tier.FREE),
        cue("undo that"),
        cue("skip this step", Tier.GUARDED),
        cue("stop talking", Tier.STOP),
        cue("hold everything", Tier.STOP),
    ),
    address="okay tray",
    decoys=("start talking", "floss is tied", "open a bit wider", "skip lunch again"),
)
