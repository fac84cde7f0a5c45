"""The products of a plan with the lot to take, and what stands in a practice's file about lots."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import TYPE_CHECKING

from sidecue.clinical.anaesthetic import SOLUTIONS, Drug
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.finding import Finding
from sidecue.clinical.product_number import product_number
from sidecue.clinical.stock import Lot, choose_lot
from sidecue.procedure.plan import PlanMaterial
from sidecue.procedure.schema import AnaestheticEntry, MaterialEntry
from sidecue.procedure.source import Document, Fault, Place

if TYPE_CHECKING:
    from sidecue.procedure.practice import Material


def plan_materials(
    used: Iterable[Material], on: date | None
) -> tuple[tuple[PlanMaterial, ...], tuple[Finding, ...]]:
    """Return the materials of a plan, each with the lot to take on the day `on`, and what must be
    told about their lots: a refusal where no good lot is left."""
    materials: list[PlanMaterial] = []
    findings: list[Finding] = []
    for material in used:
        choice = choose_lot(material.product, material.lots, on)
        findings += choice.findings
        lot = choice.lot
        materials.append(
            PlanMaterial(
                role=material.role,
                product=material.product,
                times=tuple((k, v) for k, v in material.times.items() if v is not None),
                notes=material.notes,
                lot="" if lot is None else lot.number,
                expiry="" if lot is None or lot.expiry is None else lot.expiry.isoformat(),
                storage=material.storage,
                shades=material.shades,
            )
        )
    return tuple(materials), tuple(findings)


def cartridges_for(
    cartridges: Iterable[Material], anaesthetic: str | None, drug: Drug | None, on: date | None
) -> tuple[Material, ...]:
    """Return the cartridges in the drawer that a case may be given: those of the solution it
    names; where it names only a drug, all of that drug, without those that may not be used on the
    day `on` as long as others may."""
    named = tuple(each for each in cartridges if each.kind == anaesthetic)
    if named or drug is None or anaesthetic != drug.value:
        return named
    of_drug = tuple(each for each in cartridges if SOLUTIONS[each.kind].drug is drug)
    good = tuple(
        each
        for each in of_drug
        if not each.lots or choose_lot(each.product, each.lots, on).lot is not None
    )
    return good or of_drug


def stocked(
    document: Document, place: Place, entry: MaterialEntry | AnaestheticEntry
) -> tuple[tuple[Lot, ...], str | None, list[Fault]]:
    """Return the lots and the product number of the entry at `place` of a practice's file, and
    every fault in them."""
    faults: list[Fault] = []
    code: str | None = None
    if entry.product_number is not None:
        try:
            code = product_number(entry.product_number)
        except ClinicalError as error:
            what = f"{error.what} is {error.why}"
            faults.append(document.fault((*place, "product-number"), what, error.mend))
    lots: dict[str, Lot] = {}
    for index, each in enumerate(entry.lots):
        here = (*place, "lots", index)
        expiry: date | None = None
        if each.expiry is not None:
            try:
                expiry = date.fromisoformat(each.expiry)
            except ValueError:
                what = f"expiry {each.expiry!r} is not a day"
                faults.append(document.fault((*here, "expiry"), what, "write it as 2027-03-31"))
        if each.lot in lots:
            what = f"lot {each.lot!r} of {entry.product!r} is there twice"
            faults.append(document.fault((*here, "lot"), what, "keep one"))
        lots[each.lot] = Lot(each.lot, expiry, each.recalled)
    return tuple(lots.values()), code, faults
