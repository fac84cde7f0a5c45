"""That sharing hides nothing: shipped plans walked the fast way, nothing reused unasked, beside
the plain walk of the same plan; both must know the same states and find no fault.

Values that settle nothing are tried once at each place, by either walk in the state it came to
first: the states with such a question open are counted, not compared one by one.
"""

from __future__ import annotations

from collections.abc import Iterable
from time import process_time

from sidecue.assets import data_folder
from sidecue.procedure.loading import load_library
from sidecue.proof.abstraction import Form
from sidecue.proof.atlas import Atlas
from sidecue.proof.exploring import Explorer
from sidecue.proof.family import Family
from sidecue.proof.proving import applying
from sidecue.session.state import Asking

from .killing import planned

_BY_PLACE = (Asking.VALUE, Asking.STRIKE)
_QUESTION = 6  # where a form has its question


def agreement() -> tuple[list[dict[str, object]], str]:
    """Return a row for each shipped case, and the table. Raises SystemExit where they differ."""
    library = load_library(data_folder("flows"))
    lines = ["# The shared walk beside the plain one", "",
             "| case | states | things tried, plain | tried, shared | asked again | plain, s |",
             "|---|---|---|---|---|---|"]  # fmt: skip
    rows: list[dict[str, object]] = []
    for case in library.cases:
        made = planned(library, case)
        if not made.startable:
            continue
        rules = applying(made, library.rules)
        plain = Explorer(made, rules)
        began = process_time()
        found = plain.explore()
        took = process_time() - began
        usual = Family([made], [rules], Atlas()).explore()
        family = Family([made], [rules], Atlas(), audit=1)
        asked = family.explore()
        if compared(plain.forms) != compared(family.forms(0)):
            raise SystemExit(f"{case}: the walks know different states")
        if found.violations or family.broken_of(0) or found.states != asked.states:
            raise SystemExit(f"{case}: a fault, or another number of states")
        rows.append({"case": case, "states": found.states, "tried plain": found.transitions,
                     "tried shared": usual.tried, "asked again": asked.audited,
                     "seconds plain": round(took, 1)})  # fmt: skip
        lines.append(f"| {case} | {found.states} | {found.transitions} | {usual.tried} | "
                     f"{asked.audited} | {took:.1f} |")  # fmt: skip
    return rows, "\n".join(lines) + "\n"


def compared(forms: Iterable[Form]) -> frozenset[Form]:
    """Return the forms that both walks must know alike."""
    return frozenset(form for form in forms if not _by_place(form))


def _by_place(form: Form) -> bool:
    asked = form[_QUESTION] if len(form) > _QUESTION else None
    return isinstance(asked, tuple) and asked[0] in _BY_PLACE
