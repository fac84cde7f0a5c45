"""The practice: the clinician's preferences and the products in the drawer, with their times."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field

from sidecue.clinical.stock import Lot
from sidecue.procedure.drawer import drawer, shade_faults
from sidecue.procedure.interlocks import CaseFacts, matches
from sidecue.procedure.plan import Solution
from sidecue.procedure.practice_numbers import number_faults
from sidecue.procedure.schema import AnaestheticEntry, MaterialEntry, PracticeFile
from sidecue.procedure.source import LoadError, Sourced
from sidecue.procedure.stock import stocked

ANAESTHETIC = "anaesthetic"  # the role of cartridges

_TIME = re.compile(r"([0-9]{1,4}(?:\.[0-9]{1,2})?) ?(s|min|h)")
_CLOCK = re.compile(r"([0-9]{1,2}):([0-5][0-9])")
_NO_TIME = ("0:00", "00:00")
_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}


@dataclass(frozen=True, slots=True)
class Material:
    """A product of the practice. Times in seconds; None where nobody entered it yet."""

    role: str
    product: str
    kind: str
    times: Mapping[str, float | None]
    numbers: Mapping[str, float]
    notes: str
    when: Mapping[str, tuple[str, ...]]
    supply: str | None = None
    shades: tuple[str, ...] = ()
    storage: str = ""
    number: str | None = None  # the package's product number, fourteen digits
    lots: tuple[Lot, ...] = ()


@dataclass(frozen=True, slots=True)
class Practice:
    """One office. `file` is where its answers are written, for "enter it in ..."."""

    name: str
    file: str
    notation: str | None
    jurisdiction: str
    amalgam_derogation: bool
    clinician_hand: str
    adhesive: str
    light: str
    irradiance: float | None  # mW/cm2 by the practice's own meter
    materials: tuple[Material, ...]
    address: str | None
    leave_out: tuple[str, ...]
    instead: Mapping[str, str]
    wording: Mapping[str, str]
    anaesthetics: tuple[Solution, ...] = ()
    dose_rules: str = "lower"  # of `clinical.dose_limits.RuleSet`
    light_at: Mapping[int, float] = field(default_factory=dict)  # mW/cm2 by mm from the tip
    cartridges: tuple[Material, ...] = ()  # beside `anaesthetics`: role ANAESTHETIC, with lots

    @property
    def stock(self) -> tuple[Material, ...]:
        """Everything that has lots: materials, then cartridges."""
        return (*self.materials, *self.cartridges)

    def material(self, role: str, case_facts: CaseFacts) -> Material | None:
        """Return the first product for `role` that suits the case, or None."""
        return next(
            (
                material
                for material in self.materials
                if material.role == role and matches(material.when.items(), case_facts)
            ),
            None,
        )


def seconds_of(text: str) -> float:
    """Return a written time in seconds: `15 s`, `1.5 min`, `3:30`, `24 h`.

    Raises ValueError for anything else.
    """
    clock = _CLOCK.fullmatch(text.strip())
    if clock is not None and clock[0] not in _NO_TIME:
        return float(int(clock[1]) * 60 + int(clock[2]))
    written = _TIME.fullmatch(text.strip())
    if written is None or float(written[1]) == 0:
        raise ValueError(f"{text!r} is not a time")
    return float(written[1]) * _SECONDS[written[2]]


def practice_of(source: Sourced[PracticeFile]) -> Practice:
    """Return the practice a file describes. Raises LoadError for times that cannot be read."""
    file, faults = source.model, []
    materials = []
    for number, entry in enumerate(file.materials):
        times: dict[str, float | None] = {}
        for name, written in entry.times.items():
            place = ("materials", number, "times", name)
            try:
                times[name] = None if written is None else seconds_of(written)
            except ValueError:
                faults.append(
                    source.document.fault(
                        place,
                        f"{name!r} is {written!r}, not a time",
                        "write seconds, minutes or hours: 15 s, 1.5 min, 3:30, 24 h",
                    )
                )
        lots, number_, bad = stocked(source.document, ("materials", number), entry)
        faults += bad
        materials.append(_material(entry, times, lots, number_))
    faults += number_faults(source)
    solutions, bad = drawer(source)
    faults += [*bad, *shade_faults(source)]
    cartridges = []
    for number, each in enumerate(file.anaesthetics):
        lots, number_, bad = stocked(source.document, ("anaesthetics", number), each)
        faults += bad
        cartridges.append(_cartridge(each, lots, number_))
    if faults:
        raise LoadError(faults)
    return Practice(
        name=file.practice,
        file=source.document.file,
        notation=file.notation,
        jurisdiction=file.jurisdiction,
        amalgam_derogation=file.amalgam_derogation,
        clinician_hand=file.clinician_hand,
        adhesive=file.adhesive,
        light=file.light.product,
        irradiance=file.light.irradiance,
        materials=tuple(materials),
        address=file.address,
        leave_out=tuple(file.leave_out),
        instead=dict(file.instead),
        wording=dict(file.wording),
        anaesthetics=solutions,
        dose_rules=file.dose_rules,
        light_at=dict(file.light.at_mm),
        cartridges=tuple(cartridges),
    )


def _material(
    entry: MaterialEntry,
    times: Mapping[str, float | None],
    lots: tuple[Lot, ...],
    number: str | None,
) -> Material:
    return Material(
        role=entry.role,
        product=entry.product,
        kind=entry.kind,
        times=times,
        numbers=dict(entry.numbers),
        notes=entry.notes,
        when={key: tuple(values) for key, values in entry.when.items()},
        supply=entry.supply,
        shades=tuple(entry.shades),
        storage=entry.storage,
        number=number,
        lots=lots,
    )


def _cartridge(entry: AnaestheticEntry, lots: tuple[Lot, ...], number: str | None) -> Material:
    """Return a cartridge as a product; its `kind` is the solution."""
    return Material(
        role=ANAESTHETIC,
        product=entry.product,
        kind=entry.solution,
        times={},
        numbers={},
        notes="",
        when={},
        storage=entry.storage,
        number=number,
        lots=lots,
    )
