"""Every case variant of every procedure, as plans: real cases, planned by the real planner.

The variants come from the same axes the load-time walk uses (`procedure.variants`): the facts that
the steps and rules of a visit depend on. Each is turned back into what a case and a practice would
have to say, planned, and kept only when the plan's own case facts say the same.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import product

from sidecue.clinical.materials import Material
from sidecue.procedure.case import Case, CaseFault, case_of
from sidecue.procedure.case_facts import PRODUCT_KINDS, tooth_facts
from sidecue.procedure.expansion import expand
from sidecue.procedure.library import Library
from sidecue.procedure.plan import Plan
from sidecue.procedure.planning import plan
from sidecue.procedure.practice import Practice
from sidecue.procedure.schema import CaseFile
from sidecue.procedure.variants import TOOTH_KEYS, Space, axes
from sidecue.procedure.walking import used_facts

#: Depths that give one, two and three layers of two millimetres: a first, a middle and a last one.
DEPTHS_MM = (2.0, 4.0, 6.0)
#: The law on amalgam asks for the day of the visit.
DAY = "2026-03-31"
_TEETH = ("11", "13", "14", "16", "41", "43", "44", "46", "51", "53", "54", "81", "83", "84")
_SURFACES = ("M", "O", "I", "B", "L", "MO", "MOD", "MOB", "MOL", "MI", "ML")
_MATRICES = (None, "sectional", "band", "clear-strip", "cervical", "none")
_SOLUTIONS = {"lidocaine": "lidocaine-epinephrine-100k"}

_SAID = frozenset(name.replace("_", "-") for name in CaseFile.model_fields)

Facts = Mapping[str, tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Sample:
    """As much of a variant as it takes to plan it again: the facts that matter, and the depth of
    the cavity in mm."""

    facts: tuple[tuple[str, tuple[str, ...]], ...]
    depth: float


@dataclass(frozen=True, slots=True)
class Variant:
    """One kind of case of one visit: the facts that matter, a case of it, and its plan."""

    procedure: str
    told: str
    sample: Sample
    case: Case
    plan: Plan


@dataclass(frozen=True, slots=True)
class Distinct:
    """A plan that differs in its steps from every other, and how many variants share it."""

    variant: Variant
    variants: int


@dataclass
class Census:
    """The variants of one visit: planned, refused by the rules of the trade, and not made."""

    distinct: list[Distinct]
    variants: int = 0
    refused: int = 0  # the plan itself says this case must not be done so
    unmade: int = 0  # no case or practice could be found that says just this


def census(
    library: Library, procedure: str, practice: Practice, variants: Iterable[Facts] | None = None
) -> Census:
    """Return every variant of `procedure`, or those given, equal plans counted together."""
    counted = Census([])
    by_sign: dict[object, int] = {}
    for facts in variants_of(library, procedure) if variants is None else variants:
        for made in _plans(library, procedure, practice, facts):
            counted.variants += 1
            if made is None:
                counted.unmade += 1
            elif not made.plan.startable:
                counted.refused += 1
            else:
                sign = signature(made.plan)
                at = by_sign.setdefault(sign, len(counted.distinct))
                if at == len(counted.distinct):
                    counted.distinct.append(Distinct(made, 1))
                else:
                    one = counted.distinct[at]
                    counted.distinct[at] = replace(one, variants=one.variants + 1)
    return counted


def covering(plans: Iterable[Plan]) -> list[int]:
    """Return the numbers of those plans that between them have every two steps that ever meet in
    one of `plans`."""
    number: dict[str, int] = {}
    met: dict[int, int] = {}  # for each step those that it meets, as bits
    found = []
    for at, made in enumerate(plans):
        steps = [number.setdefault(step.id, len(number)) for step in made.steps]
        whole = sum(1 << step for step in set(steps))
        if any(whole & ~met.get(step, 0) for step in steps):
            met |= {step: met.get(step, 0) | whole for step in steps}
            found.append(at)
    return found


def planned_again(
    library: Library, procedure: str, practice: Practice, samples: Iterable[Sample]
) -> Iterator[Plan]:
    """Yield the plans of some variants of `procedure`. Raises ValueError for a sample that is none
    of this library and practice."""
    known = [tuple(facts.items()) for facts in variants_of(library, procedure)]
    for sample in samples:
        case = None
        if sample.facts in known:
            case = case_with(dict(sample.facts), practice, sample.depth)
        if case is None:
            raise ValueError(f"{procedure}: no variant of it says {dict(sample.facts)}")
        yield plan(library, procedure, case, office_with(dict(sample.facts), practice))


def variants_of(library: Library, procedure: str) -> Iterator[Facts]:
    """Yield the facts of every possible variant of a visit."""
    files = library.procedures
    used = used_facts(files, procedure, library.rules)
    fits = files[procedure].model.fits
    for material in fits.get("material", ("composite",)):
        alternatives = axes(material, used)
        possible = Space(alternatives).matching(fits.items())
        for number, chosen in enumerate(product(*alternatives)):
            if possible >> number & 1:
                yield {key: value for facts in chosen for key, value in facts.items()}


def expected_work(library: Library, procedure: str) -> int:
    """Return about how much there is to plan and explore: variants times written steps."""
    return sum(1 for _ in variants_of(library, procedure)) * len(library.visit(procedure).steps)


def signature(made: Plan) -> tuple[object, ...]:
    """Return what two plans of one behaviour share: everything of a step but its words, and times
    as order only (see `abstraction`)."""
    steps = tuple(
        (
            step.id, step.needs, step.establishes, step.voids, step.begin_establishes,
            step.begin_voids, step.stops, step.done_stops, step.begin is None, step.done.tier,
            step.asks, step.settles, step.closes,
            tuple(
                (t.name, t.kind, t.least is None, t.warn is None, t.most is None, t.no_less_than,
                 t.overdue_voids, t.overdue_back_to)
                for t in step.timers
            ),
        )
        for step in made.steps
    )  # fmt: skip
    happenings = tuple((h.cue, h.voids, h.back_to, h.while_any, h.unless) for h in made.happenings)
    slots = tuple((slot.id, slot.many, bool(slot.values)) for slot in made.slots)
    return steps, happenings, tuple(rule.id for rule in made.rules), slots


def _plans(
    library: Library, procedure: str, practice: Practice, facts: Facts
) -> Iterator[Variant | None]:
    """Yield the plans of one variant: one for each number of layers, where layers are repeated."""
    told = ", ".join(f"{key} {' '.join(value) or 'none'}" for key, value in facts.items())
    seen: set[tuple[str, ...]] = set()
    practice = office_with(facts, practice)
    for depth in DEPTHS_MM:
        case = case_with(facts, practice, depth)
        made = None if case is None else plan(library, procedure, case, practice)
        if (
            case is None
            or made is None
            or any(
                key in dict(made.case_facts) and dict(made.case_facts)[key] != value
                for key, value in facts.items()
            )
        ):
            yield None
            return
        steps = tuple(step.id for step in made.steps)
        if steps not in seen:
            seen.add(steps)
            sample = Sample(tuple(facts.items()), depth)
            yield Variant(procedure, f"{told}, depth {depth:g} mm", sample, case, made)
        if not expand(library.procedures, procedure, dict(made.case_facts), 1).repeats:
            return  # no other depth has other steps


def office_with(facts: Facts, practice: Practice) -> Practice:
    """Return the practice with products of the kinds that `facts` tell, and without those of which
    they tell no kind."""
    for key in PRODUCT_KINDS.keys() & facts.keys():
        role, kinds = PRODUCT_KINDS[key], facts[key]
        held = [each for each in practice.materials if each.role == role]
        if [each.kind for each in held] != list(kinds):
            others = [each for each in practice.materials if each.role != role]
            made = [replace(held[0], kind=kind) for kind in kinds] if held else []
            practice = replace(practice, materials=(*others, *made))
    return practice


def case_with(facts: Facts, practice: Practice, depth: float) -> Case | None:
    """Return a case of which `facts` are true in `practice`, or None when none is found."""
    drug = next(iter(facts.get("anaesthetic", ("lidocaine",))))
    numb = facts.get("anaesthesia", ("no",)) == ("yes",)
    entry: dict[str, object] = {
        "material": facts["material"][0],
        "isolation": next(iter(facts.get("isolation", ("dam",)))),
        "depth-mm": depth,
        "bulk-fill": facts.get("fill") == ("bulk",),
        "anaesthetic": _SOLUTIONS.get(drug, drug) if numb else "none",
        "topical": facts.get("topical", ("no",)) == ("yes",),
        "flags": list(facts.get("flags", ())),
        "strictly-necessary": True,
        "date": DAY,
        "weight-kg": 70,
        "age-years": 8 if facts.get("age-group") == ("child",) else 34,
        "remaining-dentine-mm": 0.4 if facts.get("depth") == ("deep",) else 1.0,
    }
    # What a case says by the same word as the fact it makes: adhesive, liner, visit, ...
    entry |= {key: facts[key][0] for key in _SAID - set(entry) - TOOTH_KEYS if facts.get(key)}
    wanted = {key: facts[key] for key in TOOTH_KEYS & set(facts)}
    place = _placed(Material(facts["material"][0]), tuple(sorted(wanted.items())))
    if place is None:
        return None
    try:
        return case_of(CaseFile.model_validate(entry | dict(place)), practice.notation or "iso")
    except CaseFault:
        return None


_PLACES: dict[object, dict[str, object] | None] = {}


def _placed(
    material: Material, wanted: tuple[tuple[str, tuple[str, ...]], ...]
) -> dict[str, object] | None:
    """Return a tooth, surfaces and matrix of which `wanted` is true."""
    key = (material, wanted)
    if key not in _PLACES:
        _PLACES[key] = next(_places(material, dict(wanted)), None)
    return _PLACES[key]


def _places(material: Material, wanted: Facts) -> Iterator[dict[str, object]]:
    for tooth, surfaces, matrix, more in product(
        _TEETH, _SURFACES, _MATRICES,
        ({}, {"cervical": True}, {"cervical": False}, {"deep-box": True}, {"cusp-tip": True}),
    ):  # fmt: skip
        entry: dict[str, object] = {
            "tooth": tooth,
            "notation": "iso",
            "surfaces": surfaces,
            "matrix": matrix,
            **more,
        }
        other = {"material": material.value, "isolation": "rolls"}
        try:
            case = case_of(CaseFile.model_validate(other | entry), "iso")
        except CaseFault:
            continue
        if case.questions or case.cavity is None or case.matrix is None:
            continue
        facts = tooth_facts(case.cavity, case.matrix)
        if all(facts.get(key) == value for key, value in wanted.items()):
            yield entry
