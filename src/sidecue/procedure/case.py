"""The case: this tooth, these surfaces, this patient, read with clinical rules.

An impossible tooth or surface is a CaseFault with one line to mend it. One that only the operator
can tell apart (a number that is a tooth in both notations, a buccal pit or a cervical cavity)
becomes a question; it is never chosen here.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sidecue.clinical.anaesthetic import Drug, solution_named
from sidecue.clinical.cavity import AmbiguousCavityError, Cavity, cavity_of
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.isolation import DamPlan, dam_plan
from sidecue.clinical.materials import Material
from sidecue.clinical.matrix import MatrixKind, MatrixPlan, matrix_for
from sidecue.clinical.teeth import Notation, Tooth
from sidecue.clinical.tooth_reading import AmbiguousToothError, parse_tooth
from sidecue.procedure.plan import Question
from sidecue.procedure.schema import CaseFile

#: Deeper than any crown is tall: a slip of the pen. Millimetres (common practice, no source).
DEEPEST_MM = 15.0
OLDEST_YEARS = 120.0
HEAVIEST_KG = 400.0


class CaseFault(ValueError):  # noqa: N818 - a fault of the case, told like faults of files
    """A case that cannot be. `key` is the entry to correct; `str()` is one line."""

    def __init__(self, key: str, what: str, mend: str) -> None:
        super().__init__(f"{key}: {what}: {mend}")
        self.key, self.what, self.mend = key, what, mend


@dataclass(frozen=True, slots=True)
class Case:
    """A case whose tooth and cavity are known, or whose `questions` say what is not.

    With a question about the surfaces, `cavity` is one of the readings, for a draft only.
    """

    entry: CaseFile
    material: Material
    notation: Notation  # how the tooth is read out
    tooth: Tooth | None
    cavity: Cavity | None
    matrix: MatrixPlan | None
    on: date | None
    drug: Drug | None  # None: no local anaesthetic
    questions: tuple[Question, ...] = ()
    missing: frozenset[Tooth] = frozenset()

    @property
    def dam(self) -> DamPlan | None:
        """The dam of this mouth, whether or not one is wanted; None while the tooth is unknown."""
        if self.tooth is None or self.cavity is None:
            return None
        return dam_plan(
            self.tooth,
            missing=self.missing,
            cavity_class=self.cavity.cavity_class,
            age_years=self.entry.age_years,
        )


def case_of(entry: CaseFile, notation: str | None) -> Case:
    """Return the case an entry describes; `notation` is the practice's, None when it has none.

    Raises CaseFault for what cannot be.
    """
    for key, value, most in (
        ("depth-mm", entry.depth_mm, DEEPEST_MM),
        ("tip-distance-mm", entry.tip_distance_mm, DEEPEST_MM),
        ("age-years", entry.age_years, OLDEST_YEARS),
        ("weight-kg", entry.weight_kg, HEAVIEST_KG),
        ("remaining-dentine-mm", entry.remaining_dentine_mm, DEEPEST_MM),
    ):
        least_ok = value is None or value > 0 or (value == 0 and key.startswith(("age", "rem")))
        if value is not None and not (least_ok and value <= most):
            raise CaseFault(key, f"{value:g} cannot be", f"enter a number up to {most:g}")
    fixed = entry.notation or notation
    material = Material(entry.material)
    read_as = Notation(fixed) if fixed is not None else Notation.ISO
    on = _day(entry.date)
    drug = _drug(entry.anaesthetic)
    try:
        tooth = parse_tooth(entry.tooth, fixed)
    except AmbiguousToothError as error:
        readings = "; or ".join(
            f"{reading.notation.value}: {reading.tooth.name}" for reading in error.readings[:2]
        )
        ask = f"Tooth {entry.tooth} is two teeth. Which is meant? {readings}"
        question = Question("tooth", ask, "set `notation: iso` or `notation: universal`")
        return Case(entry, material, read_as, None, None, None, on, drug, (question,))
    except ClinicalError as error:
        raise CaseFault("tooth", f"{error.what}, {error.why}", error.mend) from error
    cavity, questions = _cavity(entry, tooth)
    preferred = None if entry.matrix is None else MatrixKind(entry.matrix)
    try:
        matrix = matrix_for(cavity, material, deep_box=entry.deep_box, preferred=preferred)
    except ClinicalError as error:
        raise CaseFault("matrix", f"{error.what}, {error.why}", error.mend) from error
    missing = _missing(entry, tooth, fixed)
    return Case(entry, material, read_as, tooth, cavity, matrix, on, drug, questions, missing)


def _missing(entry: CaseFile, treated: Tooth, notation: str | None) -> frozenset[Tooth]:
    """Return the teeth the case says are not there. Raises CaseFault."""
    found = set()
    for written in entry.missing:
        try:
            tooth = parse_tooth(written, notation)
        except ClinicalError as error:
            raise CaseFault("missing", f"{error.what}, {error.why}", error.mend) from error
        if tooth == treated:
            raise CaseFault("missing", f"{written} is the tooth to be treated", "leave it out here")
        found.add(tooth)
    return frozenset(found)


def _cavity(entry: CaseFile, tooth: Tooth) -> tuple[Cavity, tuple[Question, ...]]:
    try:
        cavity = cavity_of(tooth, entry.surfaces, cervical=entry.cervical, cusp_tip=entry.cusp_tip)
    except AmbiguousCavityError as error:
        ask = (
            f"Is {error.if_not.letters} of this tooth at the gum margin "
            f"(class {error.if_cervical.cavity_class.value}) or not "
            f"(class {error.if_not.cavity_class.value})?"
        )
        question = Question("surfaces", ask, "set `cervical: true` or `cervical: false`")
        return error.if_not, (question,)
    except ClinicalError as error:
        raise CaseFault("surfaces", f"{error.what}, {error.why}", error.mend) from error
    return cavity, ()


def _day(text: str | None) -> date | None:
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CaseFault("date", f"{text!r} is not a day", "write it as 2026-03-31") from None


def _drug(name: str | None) -> Drug | None:
    """Return the drug of a solution's id or of a bare drug name; None for `none` or nothing."""
    if name is None or name == "none":
        return None
    if name in {drug.value for drug in Drug}:
        return Drug(name)
    try:
        return solution_named(name).drug
    except ClinicalError as error:
        raise CaseFault("anaesthetic", f"{error.what}, {error.why}", error.mend) from error
