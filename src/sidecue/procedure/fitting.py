"""Which visit is for which case, and why none is: a refusal says what the material is placed in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from sidecue.clinical.finding import Finding, block
from sidecue.procedure.case import Case
from sidecue.procedure.case_facts import CASE_FACTS
from sidecue.procedure.case_words import case_line, material_words
from sidecue.procedure.interlocks import CaseFacts, matches
from sidecue.procedure.library import Library, match_of
from sidecue.procedure.schema import Match

_WHO_SAYS = "what this library's visits are for"
_MENDS = {"matrix": "enter one of them in the case, or name another visit"}
_OTHER = "name another visit"


def fits_of(library: Library, name: str) -> Match:
    """Return what a visit is for; one that does not say which visit it is for is for placing."""
    return {"visit": ["placing"], **library.visit(name).fits}


def misfits(library: Library, name: str, case: Case, facts: CaseFacts) -> Iterator[Finding]:
    """Yield a refusal when a visit that was named is for other cases than this one.

    Law, allergies and compatibility are judged by the case's own material: under the name of
    another one they would be passed by.
    """
    if case.cavity is None:
        return
    fits = fits_of(library, name)
    for key, values in fits.items():
        if not matches(match_of({key: values}), facts):
            have = _any_of(facts[key]) or "none"
            title = library.visit(name).title
            text = f"{title} is for {key} {_any_of(values)}, not {have}: {_MENDS.get(key, _OTHER)}"
            yield block(text, _WHO_SAYS)


def none_fits(library: Library, case: Case, facts: CaseFacts) -> str:
    """Return why no visit fits the case, in one line that ends with what to do."""
    return f"no procedure fits {case_line(case)}, {_reason(library, case, facts)}: correct the case"


def _reason(library: Library, case: Case, facts: CaseFacts) -> str:
    what = material_words(case.material)
    polishing = case.entry.visit == "polishing"
    done = "polished" if polishing else "placed"
    mine = [
        fits
        for fits in (fits_of(library, name) for name in library.visits)
        if _has(fits, "material", facts) and _has(fits, "visit", facts)
    ]
    if not mine:
        return f"{what} is not {'polished at a later visit' if polishing else 'placed here'}"
    for key in ("class", "matrix"):
        left = [fits for fits in mine if _has(fits, key, facts)]
        if not left:
            named = {value for fits in mine for value in fits.get(key, ())}
            known = [value for value in CASE_FACTS[key] if value in named]
            how = "in class" if key == "class" else f"in class {facts['class'][0]} with matrix"
            return f"{what} is {done} {how} {_any_of(known)}, not {_any_of(facts[key])}"
        mine = left
    return "its facts fit no visit together"


def _has(fits: Match, key: str, facts: CaseFacts) -> bool:
    values = fits.get(key)
    return values is None or not facts[key] or matches(match_of({key: values}), facts)


def _any_of(values: Iterable[str]) -> str:
    *most, last = list(values) or [""]
    return f"{', '.join(most)} or {last}" if most else last
