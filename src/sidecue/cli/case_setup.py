"""Setting up a case on the board: what may be chosen, and what comes of it, as plain data."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any, get_args

from sidecue.board.drawings import has_drawing
from sidecue.board.page import Page
from sidecue.cli.setting import practice_setting
from sidecue.cli.trouble import CLEAR, in_one_line
from sidecue.clinical.teeth import ALL_TEETH, Notation, Tooth
from sidecue.procedure.loading import case_from
from sidecue.procedure.plan import Notice, Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.schema import CaseFile
from sidecue.session.prompts import short_name

#: What the page asks for; every other entry of a case file stays with the file.
CHOICES = ("material", "isolation", "liner", "adhesive", "matrix")


class CaseSetup:
    """Plans the case that the page describes. `begin` is called with a plan that may be run."""

    def __init__(
        self,
        practice: str,
        flows: list[Path] | None,
        begin: Callable[[Plan], bool],
        again: Callable[[], None],
    ) -> None:
        """Load the library. Raises what `setting` raises."""
        self._library, self._practice = practice_setting(practice, flows)
        self._begin, self._again = begin, again

    def blank(self, entry: Mapping[str, Any]) -> Page:
        """Return the page to set up a case, filled in with `entry`."""
        notation = Notation(self._practice.notation or Notation.ISO)
        return {
            "kind": "setup",
            "scene": "",
            "practice": self._practice.name,
            "notation": notation.value,
            "teeth": [_tooth(tooth, notation) for tooth in ALL_TEETH],
            "choices": {name: _words(name) for name in CHOICES},
            "flags": _words("flags"),
            "anaesthetics": [each.id for each in self._practice.anaesthetics],
            "entry": dict(entry),
        }

    def take(self, asked: dict[str, Any]) -> dict[str, Any]:
        """Do what the page asks: `plan` shows, `start` begins, `next` returns to an empty page."""
        match asked:
            case {"do": "next"}:
                self._again()
                return {}
            case {"do": "plan" | "start" as what, "entry": dict(entry)}:
                try:
                    planned = self._plan(entry)
                except CLEAR as error:
                    return {"faults": list(in_one_line(error))}
                if what == "start":
                    if not planned.startable:
                        return {"faults": ["answer the open questions first"]}
                    if not self._begin(planned):
                        return {"faults": ["a visit is running already"]}
                return _sheet(planned)
        return {"faults": ["ask for plan, start or next"]}

    def _plan(self, entry: dict[str, Any]) -> Plan:
        case = case_from(entry, self._practice.notation)
        procedure = choose_procedure(self._library, case, self._practice)
        return plan(self._library, procedure, case, self._practice, date.today())


def _tooth(tooth: Tooth, notation: Notation) -> dict[str, Any]:
    return {
        "id": tooth.written_in(notation), "name": tooth.name, "corner": tooth.corner,
        "place": tooth.position, "primary": tooth.primary, "posterior": tooth.posterior,
        "kind": tooth.kind.value,
    }  # fmt: skip


def _words(field: str) -> list[str]:
    """Return the words a field of the case file may have, from its own declaration."""
    return list(_literals(CaseFile.model_fields[field].annotation))


def _literals(annotation: Any) -> tuple[str, ...]:
    found: list[str] = []
    for each in get_args(annotation):
        found += [each] if isinstance(each, str) else _literals(each)
    return tuple(found)


def _sheet(planned: Plan) -> dict[str, Any]:
    return {
        "title": planned.title,
        "case": planned.case_line,
        "tooth": planned.tooth_spoken,
        "steps": len(planned.steps),
        "startable": planned.startable,
        "questions": [{"ask": each.ask, "mend": each.mend} for each in planned.questions],
        "blocks": [_notice(each) for each in planned.blocks],
        "warnings": [_notice(each) for each in planned.warnings],
        "materials": [
            f"{short_name(each.role)}: {each.product}" for each in planned.materials
        ],
        "tray": [
            {"id": each.instrument, "name": each.label, "use": each.use,
             "drawn": has_drawing(each.instrument)}
            for each in planned.tray
        ],
    }  # fmt: skip


def _notice(notice: Notice) -> str:
    return f"{notice.text} ({notice.source})"
