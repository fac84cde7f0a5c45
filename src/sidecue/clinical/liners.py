"""Liners and bases by remaining dentine: what tables suggest, and the order of layers.

Advisory only. There is no single agreed protocol (Aust Dent J 2011;56(S1):11); the operator says
what goes in. Sources: Clin Cosmet Investig Dent 2017 (calcium hydroxide only at 0.5 mm or less,
covered); depth bands from operative dentistry textbook tables (from memory); order from
studystack.com cards and assisting textbooks (from memory).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from sidecue.clinical import sources
from sidecue.clinical.finding import Finding, block, note, warn
from sidecue.clinical.materials import Material
from sidecue.clinical.quantity import Number, not_negative

DEEP_MM = Fraction("0.5")  # remaining dentine at or below this is deep
THERMAL_MM = Fraction(2)  # dentine plus base under amalgam


class Layer(StrEnum):
    """Something put between dentine and filling."""

    CALCIUM_HYDROXIDE = "calcium-hydroxide"
    RESIN_GLASS_IONOMER = "resin-glass-ionomer"
    BASE = "base"  # glass ionomer or other strong base
    ZINC_PHOSPHATE = "zinc-phosphate"
    EUGENOL_BASE = "zinc-oxide-eugenol"
    VARNISH = "varnish"  # copal
    SEALER = "resin-sealer"
    ETCH = "etch"
    ADHESIVE = "adhesive"


@dataclass(frozen=True, slots=True)
class LinerAdvice:
    """What tables suggest: layers from the pulp outwards. The operator decides."""

    layers: tuple[Layer, ...]
    base_mm: Fraction | None  # thickness that makes dentine and base 2 mm together
    findings: tuple[Finding, ...]
    advisory: bool = True


def suggest(material: Material, remaining_mm: Number, *, exposed: bool = False) -> LinerAdvice:
    """Return the layers that tables suggest for `remaining_mm` millimetres of dentine.

    An exposed pulp suggests nothing: prompts stop and the operator plans. Raises ClinicalError
    for a thickness below zero.
    """
    left = not_negative(remaining_mm, "remaining dentine (mm)")
    advisory = note(
        "liners: no single protocol is agreed, the operator decides", sources.LINER_STATEMENT
    )
    if exposed or left == 0:
        stop = block("pulp exposed: stop, the operator plans", sources.COMMON_PRACTICE)
        return LinerAdvice((), None, (stop,))
    deep = left <= DEEP_MM
    if material is Material.SEALANT:
        return LinerAdvice((), None, ())
    if material is Material.AMALGAM:
        return _under_amalgam(left, deep, advisory)
    if not deep:
        layers = (Layer.ADHESIVE,) if material is Material.COMPOSITE else ()
        return LinerAdvice(layers, None, (advisory,))
    covered = (Layer.CALCIUM_HYDROXIDE, Layer.RESIN_GLASS_IONOMER)
    if material is Material.COMPOSITE:
        return LinerAdvice((*covered, Layer.ADHESIVE), None, (advisory,))
    if material is Material.RESIN_GLASS_IONOMER or material is Material.GLASS_IONOMER:
        # The filling itself is the stronger cover.
        return LinerAdvice((Layer.CALCIUM_HYDROXIDE,), None, (advisory,))
    return LinerAdvice(covered, None, (advisory,))


def _under_amalgam(left: Fraction, deep: bool, advisory: Finding) -> LinerAdvice:
    if left >= THERMAL_MM:
        choice = note("thick dentine under amalgam: a sealer, or nothing", sources.COMMON_PRACTICE)
        return LinerAdvice((Layer.SEALER,), None, (advisory, choice))
    base_mm = THERMAL_MM - left
    if deep:
        layers = (Layer.CALCIUM_HYDROXIDE, Layer.RESIN_GLASS_IONOMER, Layer.SEALER)
        return LinerAdvice(layers, base_mm, (advisory,))
    return LinerAdvice((Layer.BASE, Layer.SEALER), base_mm, (advisory,))


_ORDER = (
    Layer.CALCIUM_HYDROXIDE,
    Layer.EUGENOL_BASE,
    Layer.RESIN_GLASS_IONOMER,
    Layer.BASE,
    Layer.ZINC_PHOSPHATE,
    Layer.VARNISH,
    Layer.SEALER,
    Layer.ETCH,
    Layer.ADHESIVE,
)


def in_order(layers: Collection[Layer]) -> tuple[Layer, ...]:
    """Return `layers` from the pulp outwards.

    Varnish goes last under amalgam, except under a zinc phosphate base, which it precedes.
    """
    ranks = {layer: float(rank) for rank, layer in enumerate(_ORDER)}
    if Layer.ZINC_PHOSPHATE in layers:
        ranks[Layer.VARNISH] = ranks[Layer.ZINC_PHOSPHATE] - 0.5
    return tuple(sorted(layers, key=ranks.__getitem__))


def check_layers(material: Material, layers: Collection[Layer]) -> tuple[Finding, ...]:
    """Return what is wrong with putting `layers` under `material`."""
    found = []
    resin = material.sets_as_resin
    if Layer.VARNISH in layers and material is not Material.AMALGAM:
        found.append(
            block(f"copal varnish goes under amalgam only, not {material.value}", sources.VARNISH)
        )
    if Layer.EUGENOL_BASE in layers and resin:
        found.append(
            block(f"eugenol stops {material.value} setting: use another base", sources.EUGENOL)
        )
    covers = {Layer.RESIN_GLASS_IONOMER, Layer.BASE, Layer.ZINC_PHOSPHATE}
    covered_by_filling = material in {Material.GLASS_IONOMER, Material.RESIN_GLASS_IONOMER}
    if Layer.CALCIUM_HYDROXIDE in layers and not covers & set(layers) and not covered_by_filling:
        found.append(
            warn("calcium hydroxide is always covered with a stronger liner", sources.LINER_REVIEW)
        )
    return tuple(found)


def after_eugenol_temporary(material: Material) -> tuple[Finding, ...]:
    """Warn about a resin filling that replaces a eugenol temporary."""
    if not material.sets_as_resin:
        return ()
    return (warn("eugenol temporary before: clean the cavity well", sources.EUGENOL_MIXED),)
