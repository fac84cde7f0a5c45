"""Which key gives which cue: keys do all that voice does. Pure, so every screen agrees.

Enter gives the step's own cue. General cues keep their letter in every state; whatever else may
be said now (happenings, reasons, emergencies, values, a jump) gets the next free key, in
order; when those run out, two keys one after the other, the first of them a sign of `CHORDS`.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import chain
from string import ascii_lowercase, ascii_uppercase, digits

from sidecue.procedure.plan import Cue

ENTER = "enter"
CHORDS = "+*#"
LETTERS = {
    "repeat": "r", "what-next": "n", "how-long": "t", "which-tooth": "w", "status": "s",
    "quiet": "q", "undo": "u", "pause": "p", "resume": "p", "skip": "k", "confirm": "y",
    "deny": "x", "emergency-over": "o",
}  # fmt: skip


def keys_for(cues: Iterable[Cue], own: Iterable[str] = ()) -> dict[str, Cue]:
    """Return key -> cue for `cues`. `own` are the ids of the current step's cues, first first."""
    given: dict[str, Cue] = {}
    single = (*digits[1:], "0", *ascii_uppercase)
    chords = (sign + key for sign in CHORDS for key in (*single, *ascii_lowercase))
    spare = chain(single, chords)
    own_keys = iter((ENTER, "d"))
    own_ids = frozenset(own)
    for cue in cues:
        key = LETTERS.get(cue.id)
        if cue.id in own_ids:
            key = next(own_keys, None)
        if key is None or key in given:
            key = next(spare, None)
        if key is not None:
            given[key] = cue
    return given
