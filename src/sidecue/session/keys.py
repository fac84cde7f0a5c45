"""Which key gives which cue: keys do all that voice does. Pure, so every screen agrees.

Enter gives the step's own cue. Emergencies have the digits, in the procedures' own order, and
general cues a letter: both the same in every state, for they must be found without looking.
Whatever else may be said now (happenings, reasons, values, a jump) gets the next free key, in
order; when those run out, two keys one after the other, the first of them a sign of `CHORDS`.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from string import ascii_lowercase, ascii_uppercase, digits

from sidecue.procedure.plan import Cue, Tier

ENTER = "enter"
CHORDS = "+*#"
LETTERS = {
    "repeat": "r", "what-next": "n", "how-long": "t", "which-tooth": "w", "status": "s",
    "advice": "a", "quiet": "q", "undo": "u", "pause": "p", "resume": "p", "skip": "k",
    "confirm": "y", "deny": "x", "emergency-over": "o", "strike": "z",
}  # fmt: skip
#: The second own cue of a step: its end, while its beginning is still to come.
_OWN = (ENTER, "d")
_ALARMS = (*digits[1:], "0")
_SPARE = tuple(
    letter for letter in ascii_lowercase if letter not in {*LETTERS.values(), *_OWN}
)  # fmt: skip


def keys_for(cues: Iterable[Cue], own: Iterable[str] = ()) -> dict[str, Cue]:
    """Return key -> cue for `cues`. `own` are the ids of the current step's cues, first first."""
    given: dict[str, Cue] = {}
    chords = (sign + key for sign in CHORDS for key in (*_ALARMS, *_SPARE, *ascii_uppercase))
    # Every emergency counts in every state, and in one order: so each keeps its digit.
    alarms = iter(_ALARMS)
    spare = chain(_SPARE, ascii_uppercase, chords)
    own_keys = iter(_OWN)
    own_ids = frozenset(own)
    for cue in cues:
        key = LETTERS.get(cue.id)
        if cue.id in own_ids:
            key = next(own_keys, None)
        elif cue.tier is Tier.ALARM and key is None:
            key = next(alarms, None)
        if key is None or key in given:
            key = next(spare, None)
        if key is not None:
            given[key] = cue
    return given
