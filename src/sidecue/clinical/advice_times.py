"""The times in the patient's advice: numbness, eating, healing.

Sources: dentalcare.com ce325 (soft-tissue numbness), three paediatric advice pages (children),
cram.com 5161189 and advice pages (chewing on amalgam: they disagree, few hours, 8 h, 24 h; and
composite). Glass ionomer and interim times from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

from sidecue.clinical import sources
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.materials import Material


@dataclass(frozen=True, slots=True)
class Span:
    """A range of time with its unit and source."""

    least: int
    most: int
    unit: str
    source: str


# Minutes of numb lip, cheek or tongue; by drug, vasoconstrictor and technique where told apart.
NUMBNESS: dict[tuple[str, str], Span] = {
    ("lidocaine-epinephrine", "any"): Span(180, 300, "min", sources.NUMBNESS),
    ("mepivacaine-plain", "infiltration"): Span(90, 120, "min", sources.NUMBNESS),
    ("articaine-epinephrine", "any"): Span(180, 300, "min", sources.NUMBNESS),
    ("prilocaine-plain", "infiltration"): Span(60, 120, "min", sources.NUMBNESS),
    ("prilocaine-plain", "block"): Span(120, 240, "min", sources.NUMBNESS),
    ("prilocaine-epinephrine", "any"): Span(180, 480, "min", sources.NUMBNESS),
    ("bupivacaine-epinephrine", "any"): Span(240, 720, "min", sources.NUMBNESS),
}

CHILD_NUMB_HOURS = {
    "upper": Span(2, 2, "h", sources.NUMB_CHILD),
    "lower": Span(3, 4, "h", sources.NUMB_CHILD),
}
BITE_INJURY_DAYS = Span(7, 10, "d", sources.NUMB_CHILD)

# Hours without hard chewing on that side, once the numbness is gone.
CHEW_HOURS: dict[Material, Span] = {
    Material.COMPOSITE: Span(0, 0, "h", sources.COMPOSITE_SETS),
    Material.SEALANT: Span(0, 0, "h", sources.COMPOSITE_SETS),
    Material.AMALGAM: Span(24, 24, "h", sources.EATING),
    Material.GLASS_IONOMER: Span(24, 24, "h", "glass ionomer teaching (from memory)"),
    Material.RESIN_GLASS_IONOMER: Span(24, 24, "h", "glass ionomer teaching (from memory)"),
    Material.INTERIM: Span(1, 1, "h", "interim filling teaching (from memory)"),
}


def numbness(anaesthetic: str, technique: str) -> Span:
    """Return the minutes of numbness after `anaesthetic` by `infiltration` or `block`.

    Where a technique is not told apart, the drug's own range is given. Raises ClinicalError for a
    combination no source covers: it is not guessed.
    """
    for key in ((anaesthetic, technique), (anaesthetic, "any")):
        if key in NUMBNESS:
            return NUMBNESS[key]
    raise ClinicalError(
        f"numbness after {anaesthetic} by {technique}",
        "no source gives a time",
        "the clinician tells the patient",
    )


def chew_hours(material: Material, *, practice_hours: int | None = None) -> int:
    """Return the hours without hard chewing; `practice_hours` is the practice's own figure."""
    if practice_hours is not None:
        if practice_hours < 0:
            raise ClinicalError(f"{practice_hours} hours", "below zero", "enter whole hours")
        return practice_hours
    return CHEW_HOURS[material].most
