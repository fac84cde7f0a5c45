"""What most commands begin with: the library, the practice, the case and their plan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated

import typer

from sidecue.assets import data_folder
from sidecue.cli.trouble import Trouble
from sidecue.procedure.case import Case
from sidecue.procedure.library import Library
from sidecue.procedure.loading import load_case, load_library, load_practice, placed_case
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import choose_procedure, plan
from sidecue.procedure.practice import Practice

DEFAULT_CASE = "composite-46-mo"
DEFAULT_PRACTICE = "example"

CaseArgument = Annotated[
    str, typer.Argument(help="A case file, or the name of a shipped case.", metavar="[CASE]")
]
CaseOption = Annotated[
    str, typer.Option("--case", help="A case file, or the name of a shipped case.")
]
PracticeOption = Annotated[
    str, typer.Option("--practice", help="A practice file, or the name of a shipped one.")
]
ProcedureOption = Annotated[
    str | None,
    typer.Option(
        "--procedure",
        help="A procedure's id (a file of your own: --flows), when several fit the case.",
    ),
]
FlowsOption = Annotated[
    list[Path] | None,
    typer.Option("--flows", help="A folder of your own procedures, beside the shipped ones."),
]


@dataclass(frozen=True, slots=True)
class Setting:
    """A case planned in a practice."""

    library: Library
    practice: Practice
    case: Case
    plan: Plan


def setting(
    case: str, practice: str, procedure: str | None = None, flows: list[Path] | None = None
) -> Setting:
    """Load and plan. Raises LoadError, CaseFault or Trouble, each told in clear lines."""
    library, office = practice_setting(practice, flows)
    return planned(library, office, case, procedure)


def practice_setting(practice: str, flows: list[Path] | None = None) -> tuple[Library, Practice]:
    """Load the library and the practice. Raises LoadError or Trouble."""
    library = load_library(data_folder("flows"), flows or ())
    return library, _practice(library, practice)


def planned(library: Library, office: Practice, case: str, procedure: str | None = None) -> Setting:
    """Plan one case by name or file. Raises LoadError, CaseFault, PlanError or Trouble."""
    visit = _case(library, case, office)
    chosen = procedure or choose_procedure(library, visit, office)
    known_procedure(library, chosen)
    return Setting(library, office, visit, plan(library, chosen, visit, office, date.today()))


def startable(plan_: Plan) -> Plan:
    """Return `plan_` when it may be run. Raises Trouble with every block and open question."""
    if plan_.startable:
        return plan_
    lines = [f"this case is refused: {block.text} ({block.source})" for block in plan_.blocks]
    lines += [f"answer first: {each.ask} -> {each.mend}" for each in plan_.questions]
    raise Trouble("\n".join(lines))


def known_procedure(library: Library, name: str) -> None:
    """Raise Trouble unless the library has a whole visit of that name."""
    if name in library.visits:
        return
    if _is_path(name):
        raise Trouble(
            f"--procedure takes a procedure's id, and {name!r} is the name of a file: put the file "
            "into the folder `procedures` of a folder of your own, and give that with --flows"
        )
    raise Trouble(f"no procedure called {name!r}: {_known(name, library.visits)}")


def _practice(library: Library, name: str) -> Practice:
    if name in library.practices:
        return library.practices[name]
    if _is_path(name):
        return load_practice(Path(name), library)
    raise Trouble(_unknown("practice", name, library.practices))


def _case(library: Library, name: str, practice: Practice) -> Case:
    if name in library.cases:
        return placed_case(library.cases[name], practice.notation)
    if _is_path(name):
        return load_case(Path(name), practice.notation)
    raise Trouble(_unknown("case", name, library.cases))


def _is_path(name: str) -> bool:
    return name.endswith((".yaml", ".yml")) or Path(name).exists()


def _unknown(what: str, name: str, known: Mapping[str, object] | tuple[str, ...]) -> str:
    return f"no {what} called {name!r}, nor a file of that name: {_known(name, known)}"


def _known(name: str, known: Mapping[str, object] | tuple[str, ...]) -> str:
    near = get_close_matches(name, list(known), n=1)
    return f"did you mean {near[0]!r}?" if near else f"known: {', '.join(sorted(known))}"
