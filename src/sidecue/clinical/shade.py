"""Shade: when it is taken and how it is written down.

The tooth is moist and clean; a dried tooth looks whiter and more opaque for longer than the visit.
Sources: Compendium May 2022; dentalassistant.org shade tips 1999. Shade names are free text.
"""

from __future__ import annotations

import re

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding, warn
from sidecue.clinical.teeth import DIGIT_WORDS

GLANCE_SECONDS = (5, 7)  # from memory
RECOVERY_MINUTES = 30  # commonly said (from memory); one paper says days


def check_timing(*, isolated: bool, dried: bool) -> tuple[Finding, ...]:
    """Warn about a shade taken after isolation or drying; it is not retaken the same visit."""
    if not (isolated or dried):
        return ()
    cause = "isolation" if isolated else "drying"
    return (
        warn(f"shade after {cause}: a dry tooth looks too white, do not rely on it",
             sources.SHADE),
    )  # fmt: skip


def written_shade(text: str) -> str:
    """Return a shade name tidied: `a 3.5` gives `A3.5`. Raises ClinicalError for other signs."""
    tidy = "".join(text.split()).upper()
    if not re.fullmatch(r"[A-Z0-9][A-Z0-9.+/-]{0,11}", tidy):
        raise ClinicalError(f"shade {text!r}", "not a shade name", "letters and digits, such as A2")
    return tidy


def spoken_shade(shade: str) -> str:
    """Return a shade as it is read back: `A3.5` gives `a three point five`."""
    words = {".": "point", "+": "plus", "-": "dash", "/": "slash"}
    return " ".join(
        DIGIT_WORDS[int(sign)] if sign.isdigit() else words.get(sign, sign.lower())
        for sign in written_shade(shade)
    )
