"""How many layers of composite fill the cavity of a case, and what is too thick to cure."""

from __future__ import annotations

from sidecue.clinical import sources
from sidecue.clinical.curing import increments
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.materials import Material
from sidecue.clinical.quantity import exact, plain
from sidecue.procedure.appraisal import Appraisal
from sidecue.procedure.case import Case
from sidecue.procedure.interlocks import CaseFacts
from sidecue.procedure.plan import Notice, Question
from sidecue.procedure.practice_numbers import INCREMENT
from sidecue.procedure.timing import Times


def rounds_of(case: Case, times: Times, found: Appraisal, *, repeats: bool) -> int:
    """Return how many layers fill the cavity; asks for what it depends on."""
    if not repeats:
        return 1
    thickest = times.number(INCREMENT)
    depth = case.entry.depth_mm
    if depth is None:
        found.questions.append(
            Question(
                "depth", "How deep is the cavity, in millimetres?", "set `depth-mm:` in the case"
            )
        )
    if depth is None or thickest is None:
        return 1
    try:
        layers = increments(depth, bulk_fill=case.entry.bulk_fill, instructions_mm=thickest)
    except ClinicalError as error:
        found.block(Notice(f"{error.what}: {error.mend}", error.why))
        return 1
    found.take(layers.findings)
    return layers.count


def layers_at_the_gum(case: Case, facts: CaseFacts, times: Times, found: Appraisal) -> int:
    """Return how many layers a class V composite has (else 0), and refuse those too thick."""
    placing = case.material is Material.COMPOSITE and case.entry.visit == "placing"
    if not placing or "V" not in facts["class"]:
        return 0
    layers = 3 if "large" in facts["size"] else 2
    thickest, depth = times.number(INCREMENT), case.entry.depth_mm
    if thickest is not None and depth is not None and depth > layers * thickest:
        each = plain(exact(depth, "depth") / layers)
        text = (
            f"{layers} layers of {each} mm at the gum: at most {thickest:g} mm each cures through"
        )
        found.block(Notice(text, sources.INCREMENTS))
    return layers
