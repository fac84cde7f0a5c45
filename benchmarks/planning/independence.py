"""Why a sum of smaller products is enough: every decision sees every combination of what it reads.

The full product of all a case may say is far beyond counting. A plan is put together from
decisions, and each reads few case facts: a `when:` or `unless:` (with those of the includes around
it), a `fits:`, a clash, an interlock, an advice, a product's `when:`, or one of the clinical rules
listed in `CODE`. So it is enough that, for every decision, some group of `combinations` crosses all
the facts it reads. That is checked here against the files, and the benchmark fails where it is not
so. Needs and interlocks reach across decisions, from step to step: they are walked for the whole
product of every visit, as bits of whole numbers, when the library is loaded (`procedure.walking`);
`walked` counts those variants.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from sidecue.procedure.case_facts import PRODUCT_KINDS
from sidecue.procedure.library import Library
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import HandChoice, IncludeEntry, RepeatEntry, StepEntry
from sidecue.procedure.variants import Space, axes
from sidecue.procedure.walking import used_facts

#: What decides the cavity, as the procedures tell cavities apart.
KIND = frozenset({"material", "class", "arch", "position", "dentition", "matrix", "band"})

_LININGS = frozenset({"liner", "depth", "sealer"})

#: Facts that each group of `combinations` crosses whole: `visit` is placing in choices and
#: polishing in later, `law` is of amalgam alone and `layered` of composite alone, for which alone
#: they are asked; `mouths` has every tooth, in classes I, V and VI. Flags come one at a time.
GROUPS: Mapping[str, tuple[frozenset[str], ...]] = {
    "cavities": (KIND | {"side", "surfaces", "walls-missing", "isolation"},),
    "choices": (KIND | _LININGS | {"isolation", "adhesive", "fill", "anaesthesia"},),
    "later": (KIND | _LININGS | {"isolation", "visit"},),
    "conditions": (
        frozenset({"material", "class", "matrix", "visit", "isolation", "flags", "sheet"}),
        frozenset({"material", "visit", "isolation", "sealer", "replaces"}),
        frozenset({"material", "visit", "liner", "sealer", "flags", "base"}),
    ),
    "people": (
        frozenset({"material", "class", "arch", "matrix", "visit", "age-group", "anaesthesia",
                   "anaesthetic", "vasoconstrictor", "topical"}),
        frozenset({"material", "visit", "age-group", "anaesthesia", "anaesthetic",
                   "vasoconstrictor", "flags"}),
    ),
    "layered": (frozenset({"material", "class", "visit", "isolation", "fill", "size", "depth"}),),
    "law": (frozenset({"material", "dentition", "date", "age-group", "flags",
                       "strictly-necessary", "jurisdiction"}),),
    "mouths": (frozenset({"class", "arch", "side", "position", "dentition", "isolation", "age",
                          "missing"}),),
    "drawers": (
        frozenset({"material", "class", "matrix", "visit", "isolation", "sheet", "supply",
                   *PRODUCT_KINDS}) - {"base", "bottles", "coat"},
        frozenset({"material", "class", "matrix", "visit", "flags", "bottles", "coat"}),
        frozenset({"material", "visit", "flags", "jurisdiction", "clinician-hand"}),
    ),
}  # fmt: skip

#: What the clinical rules behind a plan read, by rule. `flags` are read one at a time.
CODE: Mapping[str, frozenset[str]] = {
    "matrix, wedge, band, retainer, guide": KIND | {"surfaces", "walls-missing", "side"},
    "dam: clamp, anchor, teeth, holes": frozenset({"class", "arch", "side", "position",
                                                   "dentition", "isolation", "age", "missing"}),
    "breathing under a dam": frozenset({"isolation", "visit", "flags"}),
    "bleached teeth": frozenset({"material", "visit", "flags"}),
    "primary enamel": frozenset({"material", "visit", "dentition"}),
    "etching bounds": frozenset({"material", "adhesive", "dentition"}),
    "liner order and its question": frozenset({"material", "visit", "liner", "sealer", "depth"}),
    "layers": frozenset({"material", "class", "visit", "fill", "size"}),
    "tables for the dentine that is left": frozenset({"material", "visit", "depth"}),
    "light at the floor": frozenset({"material", "class", "visit"}),
    "amalgam and the law": frozenset({"material", "dentition", "date", "age-group",
                                      "flags", "strictly-necessary", "jurisdiction"}),
    "capsules and condenser": frozenset({"material", "visit", "alloy"}),
    "anaesthetic count and weight": frozenset({"anaesthesia", "anaesthetic", "vasoconstrictor",
                                               "age-group", "flags"}),
    "drug and age": frozenset({"anaesthesia", "anaesthetic", "age-group", "visit"}),
    "dam sheet": frozenset({"isolation", "flags"}),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Decision:
    """Something that is decided while planning, and the case facts it reads."""

    where: str
    reads: frozenset[str]

    @property
    def group(self) -> str | None:
        """The first group that crosses everything it reads, or None."""
        for name, crossings in GROUPS.items():
            if any(self.reads <= crossed for crossed in crossings):
                return name
        return None


def decisions(library: Library, practice: Practice) -> tuple[Decision, ...]:
    """Return every decision that reads a case fact, each place once."""
    found: dict[Decision, None] = {}
    for where, reads in (
        *((f"rule of {name}", reads) for name, reads in CODE.items()),
        *_of_files(library),
        *((f"product {m.product}", frozenset(m.when)) for m in practice.materials),
    ):
        if reads:
            found.setdefault(Decision(where, frozenset(reads)))
    return tuple(found)


def _of_files(library: Library) -> Iterator[tuple[str, Iterable[str]]]:
    for visit in library.visits:
        fits = library.visit(visit).fits
        yield f"{visit}, fits", fits
        yield from _of_part(library, visit, visit, frozenset(fits))
    for rule in library.rules:
        yield f"interlock {rule.id}", [key for key, _ in rule.when]
    for clash in library.clashes:
        yield f"clash {clash.clash}", {*clash.when, *clash.unless}
    for number, advice in enumerate(library.advice):
        yield f"advice {number}", {*advice.when, *advice.unless}


def _of_part(
    library: Library, visit: str, name: str, around: frozenset[str]
) -> Iterator[tuple[str, Iterable[str]]]:
    for entry in library.procedures[name].model.steps:
        reads = around | {*entry.when, *entry.unless}
        if isinstance(entry, IncludeEntry):
            yield from _of_part(library, visit, entry.include, reads)
            continue
        steps: Iterable[StepEntry] = entry.steps if isinstance(entry, RepeatEntry) else (entry,)
        for step in steps:
            inner = reads | {*step.when, *step.unless}
            yield f"{visit}, step {step.step}", inner
            for hand in (*step.hand, *step.lay):
                if isinstance(hand, HandChoice):
                    yield f"{visit}, hand {hand.use}", inner | {*hand.when, *hand.unless}
    for happening in library.procedures[name].model.happenings:
        yield f"{visit}, happening {happening.happening}", around | {*happening.when}


def walked(library: Library) -> Iterator[tuple[str, int]]:
    """Yield each visit with the number of variants that are walked when the library is loaded."""
    for visit in library.visits:
        used = used_facts(library.procedures, visit, library.rules)
        fits = library.visit(visit).fits
        count = 0
        for material in fits.get("material", ("composite",)):
            space = Space(axes(material, used))
            count += space.matching(fits.items()).bit_count()
        yield visit, count
