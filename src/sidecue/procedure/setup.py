"""What the case itself decides before the visit: matrix, dam, liner, layers, light, capsules.

Each entry is one line to lay out by, with who says so. What the clinician prefers otherwise is set
in the case or the practice's own file; what cannot be known yet is left out here and asked for.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from fractions import Fraction

from sidecue.clinical import matrix as matrices
from sidecue.clinical import sources
from sidecue.clinical.amalgam import HANDLING, Alloy, capsules_for, spill_mg
from sidecue.clinical.curing import cure_seconds
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.isolation import (
    CLAMP_NUMBERS,
    HOLE_SPACING_MM,
    LIGATURE_CM,
    ClampFamily,
)
from sidecue.clinical.liners import in_order, suggest
from sidecue.clinical.materials import Material
from sidecue.clinical.matrix import GuideSlot, MatrixKind
from sidecue.clinical.quantity import exact, plain
from sidecue.procedure.appraisal import layers_of, ruling_of
from sidecue.procedure.case import Case
from sidecue.procedure.interlocks import CaseFacts
from sidecue.procedure.plan import Preparation
from sidecue.procedure.practice import Material as Product
from sidecue.procedure.practice import Practice
from sidecue.procedure.practice_numbers import INCREMENT, TARGET
from sidecue.procedure.timing import floor_mm, light_at

_GUIDES = {
    GuideSlot.UPPER_RIGHT_LOWER_LEFT: "the guide slot of upper right and lower left",
    GuideSlot.UPPER_LEFT_LOWER_RIGHT: "the guide slot of upper left and lower right",
}
_KINDS = {
    MatrixKind.SECTIONAL: "sectional matrix with separating ring, curve toward the neighbour",
    MatrixKind.CLEAR_STRIP: "clear strip, for metal would keep the light out",
    MatrixKind.CERVICAL: "cervical matrix",
}


def preparations(
    case: Case, practice: Practice, facts: CaseFacts, rounds: int
) -> tuple[Preparation, ...]:
    """Return what is decided for this case, in the order of the visit.

    `rounds` is how many layers fill the cavity, 0 where nothing is layered.
    """
    if case.tooth is None or case.cavity is None:
        return ()
    found = [
        Preparation("cavity", f"class {case.cavity.cavity_class.value}", sources.CAVITY_CLASSES)
    ]
    if case.entry.visit == "placing":
        found += _dam(case)
        found += _liner(case)
        found += _matrix(case)
        if case.material is Material.AMALGAM:
            found += _amalgam(case, practice, facts)
        if rounds:
            found += _layers(case, practice, facts, rounds)
    return tuple(found)


def _dam(case: Case) -> Iterator[Preparation]:
    dam = case.dam
    if case.entry.isolation != "dam" or dam is None:
        return
    numbers = case.entry.clamp or ", ".join(CLAMP_NUMBERS[dam.family])
    kind = "retracting" if dam.family is ClampFamily.CERVICAL else dam.family.value
    if case.entry.clamp is not None:
        kind = "chosen"
    least, most = LIGATURE_CM
    yield Preparation(
        "clamp",
        f"{kind} clamp ({numbers}) on {dam.anchor.written_in(case.notation)}, "
        f"tied with {least} to {most} cm of floss",
        f"{sources.DAM_CLAMP_LIST}; {sources.DAM_ANCHOR}",
    )
    teeth = " ".join(tooth.written_in(case.notation) for tooth in dam.isolated)
    holes = " ".join(str(hole) for hole in dam.holes)
    yield Preparation("teeth through the dam", teeth, sources.DAM_ANCHOR)
    yield Preparation(
        "hole sizes",
        f"{holes}, at least {HOLE_SPACING_MM} mm apart",
        f"{sources.DAM_HOLES}; {sources.DAM_SPACING}",
    )


def _liner(case: Case) -> Iterator[Preparation]:
    layers = in_order(layers_of(case.entry))
    if layers:
        words = ", then ".join(layer.value.replace("-", " ") for layer in layers)
        yield Preparation("liner, in order", words, sources.LINER_ORDER)
    remaining = case.entry.remaining_dentine_mm
    if not remaining or case.material is Material.SEALANT:  # nothing said, or the pulp is open
        return
    advice = suggest(case.material, remaining)
    usual = ", then ".join(layer.value.replace("-", " ") for layer in advice.layers) or "no liner"
    base = "" if advice.base_mm is None else f", the base {plain(advice.base_mm)} mm"
    yield Preparation(
        "liner tables",
        f"{remaining:g} mm of dentine under {case.material.value.replace('-', ' ')}: "
        f"{usual}{base}; the clinician decides",
        f"{sources.LINER_DEPTHS}; {sources.LINER_REVIEW}",
    )


def _matrix(case: Case) -> Iterator[Preparation]:
    plan = case.matrix
    if plan is None or plan.kind is MatrixKind.NONE:
        return
    if plan.kind is MatrixKind.BAND and plan.band is not None and plan.guide_slot is not None:
        low, high = matrices.ABOVE_RIDGE_MM
        yield Preparation(
            "matrix",
            f"{plan.band.value} band in a retainer, {low:g} to {high:g} mm above the ridge",
            sources.MATRIX_LECTURE,
        )
        yield Preparation(
            "loop",
            f"wider opening {matrices.WIDER_OPENING}, slots {matrices.SLOTS_FACE}, "
            f"{_GUIDES[plan.guide_slot]}",
            f"{sources.MATRIX_HOW_TO}; pairing: {sources.MATRIX_TEXTBOOK}",
        )
        yield Preparation("retainer", f"on the {plan.retainer_side} side", sources.MATRIX_CARDS)
    else:
        words = _KINDS[plan.kind]
        if plan.kind is MatrixKind.CLEAR_STRIP and not case.material.sets_as_resin:
            words = "clear strip, held tightly around the tooth while it sets"
        yield Preparation("matrix", words, sources.MATRIX_PLACEMENT)
    if plan.wedges:
        count = "1 wedge" if plan.wedges == 1 else f"{plan.wedges} wedges"
        yield Preparation(
            "wedge", f"{count}, from the {plan.wedge_side} side", sources.MATRIX_AMALGAM
        )


def _amalgam(case: Case, practice: Practice, facts: CaseFacts) -> Iterator[Preparation]:
    ruling = ruling_of(case, practice)
    if ruling is not None and case.on is not None:
        day = case.on.isoformat()
        yield Preparation("law", f"{practice.jurisdiction}, {day}: {ruling.text}", ruling.source)
    if case.cavity is None:
        return
    capsules = capsules_for(len(case.cavity.surfaces))
    words = " and ".join(
        f"{spills} {'spill' if spills == 1 else 'spills'} ({spill_mg(spills)} mg)"
        for spills in capsules
    )
    yield Preparation(
        "capsules", words, f"{sources.COMMON_PRACTICE}; milligrams: {sources.AMALGAM_DATA}"
    )
    if facts["alloy"]:
        handling = HANDLING[Alloy(facts["alloy"][0])]
        yield Preparation(
            "condenser",
            f"{handling.condenser}, {facts['alloy'][0]} alloy",
            sources.AMALGAM_TEACHING,
        )


def _layers(case: Case, practice: Practice, facts: CaseFacts, rounds: int) -> Iterator[Preparation]:
    filling = practice.material(case.entry.material, facts)
    depth = case.entry.depth_mm
    if filling is None or depth is None or INCREMENT not in filling.numbers:
        return
    each = plain(exact(depth, "depth") / rounds)
    limit = filling.numbers[INCREMENT]
    count = "1 layer" if rounds == 1 else f"{rounds} layers"
    yield Preparation(
        "layers",
        f"{count} of {each} mm for {depth:g} mm, at most {limit:g} mm each",
        f"{sources.INCREMENTS}; instructions of {filling.product}",
    )
    target, least = filling.numbers.get(TARGET), filling.times.get("cure")
    floor = floor_mm(case, facts)
    with suppress(ClinicalError):  # asked about where the time is needed
        light = light_at(practice, floor)
        yield from _light(filling, target, least, light, floor if practice.light_at else None)


def _light(
    filling: Product,
    target: float | None,
    least: float | None,
    light: float | None,
    floor: float | None,
) -> Iterator[Preparation]:
    if target is None or light is None or least is None:
        return
    by_dose = cure_seconds(light, target)
    far = "" if floor is None else f" ({floor:g} mm from the tip)"
    seconds = max(Fraction(by_dose), Fraction(least))
    yield Preparation(
        "light",
        f"{plain(seconds)} s a layer: {target:g} J/cm2 at {light:g} mW/cm2{far} takes {by_dose} s, "
        f"the instructions ask {least:g} s",
        f"{sources.LIGHT_TARGET}; instructions of {filling.product}",
    )
