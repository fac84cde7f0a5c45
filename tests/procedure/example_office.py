"""Plans of the example office, changed as a test wants it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from shipped_library import shipped
from sidecue.procedure.case import case_of
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import CaseFile

COMPOSITE = {"material": "composite", "isolation": "dam", "depth-mm": 4}
AMALGAM = {"material": "amalgam", "isolation": "dam", "date": "2024-05-02", "age-years": 40}


def office(**changes: object) -> Practice:
    return replace(shipped().practices["example"], **changes)  # type: ignore[arg-type]


def with_kind(role: str, kind: str) -> Practice:
    """The example office, its product for `role` of another kind."""
    return office(
        materials=tuple(
            replace(each, kind=kind) if each.role == role else each for each in office().materials
        )
    )


def planned(
    practice: Practice | None = None, notation: str | None = "iso", **entry: object
) -> Plan:
    practice = practice or office()
    case = case_of(CaseFile.model_validate(entry), notation)
    return plan(shipped(), choose_procedure(shipped(), case, practice), case, practice,
                date(2026, 3, 31))  # fmt: skip


def decided(made: Plan) -> dict[str, str]:
    return {each.name: each.text for each in made.preparations}
