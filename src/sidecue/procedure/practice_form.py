"""A practice's file to fill in: every product that visits ask for, every time of it still empty.

Nothing in it is an answer. What is left empty is told by the loader or asked before a start.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from sidecue.procedure.case_facts import CASE_FACTS, PRODUCT_KINDS
from sidecue.procedure.library import Library
from sidecue.procedure.materials import LIGHT, Use, uses
from sidecue.procedure.practice import ANAESTHETIC

_KINDS = {role: CASE_FACTS[key] for key, role in PRODUCT_KINDS.items()}

_HEAD = """\
# Your practice, to fill in. Only what you enter counts: a time that stays empty is asked for before
# the start, never guessed. Times come from the instructions of the products in your own drawer, and
# are written 15 s, 1.5 min, 3:30 or 24 h. Delete the products that you do not have.
# Then: sidecue materials check --practice THIS-FILE
practice:           # the name of the practice
notation:           # how you write teeth: iso (46) or universal (30); empty: asked where both fit
jurisdiction:       # whose law on amalgam holds: eu, us, northern-ireland or other
clinician-hand: right  # or left
adhesive:           # unless a case says otherwise: total-etch, selective-etch or self-etch
light:
  product:          # the curing light
  irradiance:       # what your own meter shows at the tip, in mW/cm2 (1.2 W/cm2 is 1200)
  at-mm: {}         # the same light further off, if you measured it: {4: 860, 8: 640}
dose-rules: lower   # which published limits are said aloud: lower or us-label
leave-out: []       # optional steps that you never use
# Without a list of cartridges none can be counted. One looks like this:
#  - solution: lidocaine-epinephrine-100k
#    product: the name on the package
#    cartridge-ml: 1.8
#    lots: [{lot: "A1234", expiry: 2030-01-31}]
anaesthetics: []
# Each product may have, besides, as printed on its package:
#    storage: Keep below 25 degrees.
#    shades: [A1, A2, A3]
#    product-number: 9521250001056
#    lots: [{lot: "A1234", expiry: 2030-01-31}]
# Two products of one role: tell with `when:` which case takes which (`when: {fill: [bulk]}`).
materials:
"""


def practice_form(library: Library) -> str:
    """Return the text of a practice's file with all that the visits of the library ask for."""
    asked: dict[str, list[Use]] = {}
    for use in uses(library):
        asked.setdefault(use.role, []).append(use)
    roles = [role for role in asked if role not in (LIGHT, ANAESTHETIC)]
    roles += [role for role in _KINDS if role not in asked]
    return _HEAD + "".join(
        f"{line}\n" for role in roles for line in _product(role, asked.get(role, []))
    )


def _product(role: str, asked: list[Use]) -> Iterator[str]:
    kinds = _KINDS.get(role)
    yield f"  - role: {role}"
    yield _line("    product:", "its name on the package")
    yield _line("    kind:", ", ".join(kinds) if kinds else "in one word, such as one-bottle")
    if role == "amalgam":
        yield _line("    supply:", "how you buy it: capsule, sachet or bulk")
    times = _meanings(asked)
    if times:
        yield "    times:"
        yield from (_line(f"      {name}:", meaning) for name, meaning in times.items())
    numbers = dict.fromkeys(use.number for use in asked if use.number)
    if numbers:
        yield f"    numbers: {{}}     # from its instructions: {{{_empty(numbers)}}}"


def _meanings(asked: list[Use]) -> Mapping[str, str]:
    """Return the times of a role with what they mean where they are first asked for."""
    found: dict[str, str] = {}
    for use in asked:
        if use.time:
            found.setdefault(use.time, use.meaning)
    return found


def _empty(names: Mapping[str, None]) -> str:
    return ", ".join(f"{name}: ..." for name in names)


def _line(entry: str, remark: str) -> str:
    return f"{entry:<20}# {remark}"
