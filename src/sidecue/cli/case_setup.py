"""Setting up a case on the board: what may be chosen, and what comes of it, as plain data."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import Any, get_args

from sidecue.board.drawings import has_drawing
from sidecue.board.page import Page
from sidecue.cli.setting import practice_setting
from sidecue.cli.trouble import CLEAR, in_one_line
from sidecue.clinical.teeth import ALL_TEETH, Notation, Tooth
from sidecue.procedure.case_talk import NEEDED, WARNINGS
from sidecue.procedure.loading import case_from
from sidecue.procedure.plan import Notice, Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.reading import read_model
from sidecue.procedure.schema import CaseFile
from sidecue.procedure.source import Document, LoadError
from sidecue.session.prompts import short_name
from sidecue.session.setting_up import Draft

#: What the page asks for; every other entry of a case file stays with the file.
CHOICES = ("material", "isolation", "visit", "liner", "adhesive", "matrix", "sealer", "replaces")

#: How an open question says which entry of the case answers it.
_IN_THE_CASE = re.compile(r"set `([a-z-]+):")

#: The page's word that every warning about the patient is told; silence does not mean none.
_WARNINGS_OPEN = {
    "ask": "Which warnings are there for this patient?",
    "mend": "tick each, then `no more warnings`",
    "field": "no-more-warnings",
}

#: Stands for what has not been told yet, while the rest is looked at.
_UNTOLD = {"tooth": "", "surfaces": "", "material": "composite", "isolation": "dam"}


class CaseSetup:
    """Plans the case that the page describes. `begin` is called with a plan that may be run."""

    def __init__(
        self,
        practice: str,
        flows: list[Path] | None,
        begin: Callable[[Plan], bool],
        again: Callable[[], None],
        entered: Callable[[dict[str, Any]], None] = lambda _: None,
    ) -> None:
        """Load the library. Raises what `setting` raises. `entered` is told the case whenever the
        page's changes."""
        self.library, self.practice = practice_setting(practice, flows)
        self._begin, self._again, self._entered = begin, again, entered
        self._last: tuple[str, Draft] = ("", Draft())
        self.warnings_told = False  # on the page; the voice need not ask for them

    def blank(self, entry: Mapping[str, Any]) -> Page:
        """Return the page to set up a case, filled in with `entry`."""
        notation = Notation(self.practice.notation or Notation.ISO)
        return {
            "kind": "setup",
            "scene": "",
            "practice": self.practice.name,
            "notation": notation.value,
            "teeth": [_tooth(tooth, notation) for tooth in ALL_TEETH],
            "choices": {name: _words(name) for name in CHOICES},
            "flags": _words("flags"),
            "anaesthetics": [each.id for each in self.practice.anaesthetics],
            "entry": dict(entry),
        }

    def take(self, asked: dict[str, Any]) -> dict[str, Any]:
        """Do what the page asks: `plan` shows, `start` begins, `next` returns to an empty page."""
        match asked:
            case {"do": "next"}:
                self.warnings_told = False
                self._again()
                return {}
            case {"do": "plan" | "start" as what, "entry": dict(entry)}:
                if faults := _unreadable(entry):
                    return {"faults": faults}
                self.warnings_told = WARNINGS in _told(asked)
                self._entered(entry)
                missing = [name for name in NEEDED if not entry.get(name)]
                if missing and what == "plan":
                    return {"missing": missing}
                drafted = self.draft(entry)
                planned = drafted.plan
                if planned is None:
                    return {"faults": list(drafted.faults)}
                if what == "start":
                    if not (planned.startable and self.warnings_told):
                        return {"faults": ["answer the open questions first"]}
                    if not self._begin(planned):
                        return {"faults": ["a visit is running already"]}
                return _sheet(planned, self.warnings_told)
        return {"faults": ["ask for plan, start or next"]}

    def draft(self, entry: Mapping[str, Any]) -> Draft:
        """Return what a case so far comes to: its plan, or every fault in one line each."""
        asked = json.dumps(entry, sort_keys=True, default=str)
        if self._last[0] != asked:
            try:
                found = Draft(self._plan(entry))
            except CLEAR as error:
                found = Draft(faults=tuple(in_one_line(error)))
            self._last = (asked, found)
        return self._last[1]

    def _plan(self, entry: Mapping[str, Any]) -> Plan:
        # A visit that is set up here is today's; the law on amalgam depends on the day.
        dated = {"date": date.today().isoformat(), **entry}
        case = case_from(dated, self.practice.notation)
        procedure = choose_procedure(self.library, case, self.practice)
        return plan(self.library, procedure, case, self.practice, date.today())


def _unreadable(entry: Mapping[str, Any]) -> list[str]:
    """Return what of an unfinished case no case file could hold, a line each."""
    try:
        read_model(Document("the case", {**_UNTOLD, **entry}, {}), CaseFile)
    except LoadError as error:
        return [f"{fault.what}: {fault.mend}" for fault in error.faults]
    return []


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


def _told(asked: Mapping[str, Any]) -> list[Any]:
    """Return the lists that the page says are complete."""
    told = asked.get("told", [])
    return told if isinstance(told, list) else []


def _sheet(planned: Plan, warnings_told: bool) -> dict[str, Any]:
    return {
        "title": planned.title,
        "case": planned.case_line,
        "tooth": planned.tooth_spoken,
        "steps": len(planned.steps),
        "startable": planned.startable and warnings_told,
        "questions": [
            *([] if warnings_told else [_WARNINGS_OPEN]),
            *(
                {"ask": each.ask, "mend": each.mend, "field": _field(each.mend)}
                for each in planned.questions
            ),
        ],
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


def _field(mend: str) -> str:
    """Return the entry of the case that answers; empty where the answer goes elsewhere."""
    found = _IN_THE_CASE.match(mend)
    name = found.group(1) if found is not None else ""
    return name if name.replace("-", "_") in CaseFile.model_fields else ""


def _notice(notice: Notice) -> str:
    return f"{notice.text} ({notice.source})"
