"""The tray: everything that is handed, in order of first use, and how many pieces of it."""

from __future__ import annotations

from collections.abc import Sequence

from sidecue.clinical.amalgam import capsules_for
from sidecue.clinical.materials import Material
from sidecue.procedure.case import Case
from sidecue.procedure.library import Library
from sidecue.procedure.plan import Step, TrayItem


def tray_of(library: Library, steps: Sequence[Step], case: Case) -> tuple[TrayItem, ...]:
    """Return what `steps` hand, in order of first use, with the number of pieces."""
    uses: dict[str, list[str]] = {}
    for step in steps:
        for instrument in dict.fromkeys((*step.lay, *step.hand)):
            uses.setdefault(instrument, []).append(step.id)
    items = []
    for name, used_in in uses.items():
        entry = library.instruments[name]
        items.append(
            TrayItem(
                instrument=name,
                name=entry.name,
                spoken=entry.spoken,
                family=entry.family,
                use=entry.use,
                steps=tuple(used_in),
                passing=entry.passing,
                count=_pieces(entry.one_for, case),
            )
        )
    return tuple(items)


def _pieces(one_for: str, case: Case) -> int:
    """Return how many pieces this case takes: one, or one for each open side or capsule."""
    if case.matrix is None or case.cavity is None:
        return 1
    if one_for == "open-side":
        return max(1, case.matrix.wedges)
    if one_for == "capsule" and case.material is Material.AMALGAM:
        return len(capsules_for(len(case.cavity.surfaces)))
    return 1
