"""Walking a visit for every case variant at once, before anyone runs it.

Found on the way: a fact needed that no earlier step establishes, a step that breaks an interlock,
two steps of one id, a happening that goes back to a step that is not there, a timer stopped that
nothing starts, and a phrase that would complete two steps in a row.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache

from sidecue.procedure.library import steps_of
from sidecue.procedure.plan import Rule
from sidecue.procedure.schema import (
    Begin,
    HappeningEntry,
    IncludeEntry,
    Match,
    ProcedureFile,
    StepEntry,
)
from sidecue.procedure.source import Document, Fault, Place, Sourced
from sidecue.procedure.variants import Space, axes

Files = Mapping[str, Sourced[ProcedureFile]]


@dataclass(frozen=True, slots=True)
class Blamed:
    """A fault where it shows, and the same at the include of the visit that leads there; None
    where the visit itself wrote it, or the part is at odds with itself.

    `key` is the same in every visit that has this fault.
    """

    key: tuple[object, ...]
    fault: Fault
    included: Fault | None = None
    part: str = ""


def walk_all(files: Files, visits: Sequence[str], rules: Sequence[Rule]) -> list[Fault]:
    """Return the faults of whole visits. Includes must exist and must not go in circles.

    What is wrong wherever a part is included is the part's own fault. Otherwise it is the fault of
    the visit that includes it: the part is sound, and something is not before it.
    """
    found = {visit: _blamed(files, visit, rules) for visit in visits}
    having = {visit: {each.key for each in blamed} for visit, blamed in found.items()}
    including = {visit: _parts_of(files, visit) for visit in visits}
    faults: list[Fault] = []
    for each in (each for blamed in found.values() for each in blamed):
        users = [visit for visit in visits if each.part in including[visit]]
        everywhere = len(users) > 1 and all(each.key in having[visit] for visit in users)
        own = each.included is None or everywhere
        faults.append(each.fault if own or each.included is None else each.included)
    return faults


def _parts_of(files: Files, name: str) -> frozenset[str]:
    """Return a file and all it includes, directly or not."""
    below = (e.include for e in files[name].model.steps if isinstance(e, IncludeEntry))
    return frozenset({name}).union(*(_parts_of(files, each) for each in below))


def walk(files: Files, visit: str, rules: Sequence[Rule]) -> list[Fault]:
    """Return the faults of one whole visit, each where it shows."""
    return [each.fault for each in _blamed(files, visit, rules)]


def _blamed(files: Files, visit: str, rules: Sequence[Rule]) -> list[Blamed]:
    faults: dict[tuple[object, ...], Blamed] = {}
    used = used_facts(files, visit, rules)
    fits = files[visit].model.fits
    for material in fits.get("material", ("composite",)):
        space = Space(axes(material, used))
        faults |= _Walk(files, rules, space, faults).visit(visit, space.matching(fits.items()))
    return list(faults.values())


def used_facts(files: Files, visit: str, rules: Sequence[Rule]) -> dict[str, frozenset[str]]:
    """Return the case facts, with their values, that steps of a visit depend on, and rules that
    may apply to it."""
    fits = files[visit].model.fits
    used: dict[str, set[str]] = {}

    def note(*matches: Match | Iterable[tuple[str, Iterable[str]]]) -> None:
        for match in matches:
            for key, values in match.items() if isinstance(match, dict) else match:
                used.setdefault(key, set()).update(values)

    def look(name: str) -> None:
        for entry in files[name].model.steps:
            note(entry.when, entry.unless)
            if isinstance(entry, IncludeEntry):
                look(entry.include)
            elif not isinstance(entry, StepEntry):
                for step in entry.steps:
                    note(step.when, step.unless)
        note(*(happening.when for happening in files[name].model.happenings))

    look(visit)
    note(fits, *(rule.when for rule in rules if _may_apply(rule, fits)))
    return {key: frozenset(values) for key, values in used.items()}


def _may_apply(rule: Rule, fits: Match) -> bool:
    """Return whether some case that a visit fits has what a rule asks of the case."""
    return all(key not in fits or set(values) & set(fits[key]) for key, values in rule.when)


class _Walk:
    """One walk. `holds` is, for each fact, the set of variants in which it is true now."""

    def __init__(
        self,
        files: Files,
        rules: Sequence[Rule],
        space: Space,
        faults: dict[tuple[object, ...], Blamed],
    ) -> None:
        self._files = files
        self._rules = rules
        self._space = space
        self._faults = faults
        self._possible = space.all
        self._holds: dict[str, int] = {}
        self._ever: dict[str, int] = {}
        self._steps: dict[str, list[tuple[int, StepEntry]]] = {}
        self._timers: dict[str, int] = {}
        self._parts: dict[str, int] = {}
        self._visit = ""
        self._way: Place = ()  # the visit's include that is being walked
        self._part_now = ""
        self._ways: dict[str, Place] = {}  # by part, where the visit first includes it
        self._happenings: list[tuple[int, HappeningEntry]] = []
        self._before: list[tuple[int, StepEntry]] = []  # the step before, by variant
        self._matching = cache(space.matching)

    def visit(self, name: str, variants: int) -> dict[tuple[object, ...], Blamed]:
        """Walk the whole visit and return the faults, each kind of fault of a step once."""
        self._possible = variants
        self._visit = name
        self._part(name, variants)
        for part, present in self._parts.items():
            source = self._files[part]
            self._part_now, self._way = part, self._ways[part]
            for number, entry in enumerate(source.model.happenings):
                possible = 0
                for fact in entry.while_any:
                    possible |= self._ever.get(fact, 0)
                possible &= present & self._matching(_frozen(entry.when))
                if possible:
                    self._happening(source.document, ("happenings", number), entry, possible)
        return self._faults

    def _part(self, name: str, variants: int) -> None:
        self._parts[name] = self._parts.get(name, 0) | variants
        self._ways.setdefault(name, self._way)
        self._part_now = name
        source = self._files[name]
        for number, entry in enumerate(source.model.steps):
            here = self._chosen(variants, entry.when, entry.unless)
            place: Place = ("steps", number)
            if isinstance(entry, IncludeEntry):
                way = self._way
                self._way = way or (*place, "include")
                self._part(entry.include, here)
                self._part_now, self._way = name, way
            elif isinstance(entry, StepEntry):
                self._step(source.document, place, entry, here)
            else:
                for last in (False, True):  # the second round starts where the first one ended
                    for inner, step in enumerate(entry.steps):
                        if step.round == "last" and not last:
                            continue
                        chosen = self._chosen(here, step.when, step.unless)
                        where = (*place, "steps", inner)
                        self._step(source.document, where, step, chosen)

    def _chosen(self, variants: int, when: Match, unless: Match) -> int:
        chosen = variants & self._matching(_frozen(when))
        return chosen & ~self._matching(_frozen(unless)) if unless else chosen

    def _step(self, document: Document, place: Place, step: StepEntry, here: int) -> None:
        if not here:
            return
        self._identity(document, place, step, here)
        self._phrases(document, place, step, here)
        for need in step.needs:
            missing = here & ~self._holds.get(need, 0)
            if missing:
                self._fault(
                    document, (*place, "needs"), missing,
                    f"step {step.step!r} needs {need!r}, which no earlier step establishes",
                    f"establish {need!r} before it, or drop the need",
                    f"establish {need!r} before this include, or leave the part out",
                )  # fmt: skip
                self._gain([need], missing)
        if step.begin is not None:
            self._moment(document, place, step, step.begin, here)
        self._moment(document, place, step, step, here)
        for timer in step.timers:
            self._timers[timer.timer] = self._timers.get(timer.timer, 0) | here
        for key, names in (("stops", step.stops), ("done-stops", step.done_stops)):
            for name in names:
                if not here & self._timers.get(name, 0):
                    self._fault(
                        document, (*place, key), here,
                        f"step {step.step!r} stops timer {name!r}, which nothing started",
                        "start it in an earlier step, or drop it here",
                    )  # fmt: skip
        for number, timer in enumerate(step.timers):
            if timer.overdue is not None and timer.overdue.back_to is not None:
                where = (*place, "timers", number, "overdue")
                self._back_to(document, where, timer.overdue.back_to, here)

    def _happening(
        self, document: Document, place: Place, entry: HappeningEntry, possible: int
    ) -> None:
        self._back_to(document, (*place, "back-to"), entry.back_to, possible)
        for variants, other in self._happenings:
            both = variants & possible
            if both and other.happening == entry.happening:
                self._fault(
                    document, (*place, "happening"), both,
                    f"happening {entry.happening!r} is there twice", "give each an id of its own",
                )  # fmt: skip
            shared = set(other.heard).intersection(entry.heard)
            if both and shared:
                self._fault(
                    document, (*place, "heard"), both,
                    f"phrase {min(shared)!r} means two happenings",
                    "use another phrase in one of them",
                )  # fmt: skip
        self._happenings.append((possible, entry))

    def _identity(self, document: Document, place: Place, step: StepEntry, here: int) -> None:
        same = self._steps.setdefault(step.step, [])
        for variants, other in same:
            if other is not step and variants & here:
                self._fault(
                    document, (*place, "step"), variants & here,
                    f"step {step.step!r} is there twice", "give each step an id of its own",
                    own=self._same_part(other),
                )  # fmt: skip
        same.append((here, step))

    def _phrases(self, document: Document, place: Place, step: StepEntry, here: int) -> None:
        first = step.cue if step.begin is None else step.begin.cue
        for variants, before in self._before:
            shared = set(before.cue).intersection(first)
            if variants & here and shared:
                phrase = min(shared)
                self._fault(
                    document, (*place, "cue"), variants & here,
                    f"phrase {phrase!r} would complete {before.step!r} and then {step.step!r}",
                    "use another phrase in one of them",
                    own=self._same_part(before),
                )  # fmt: skip
        self._before = [(rest, old) for was, old in self._before if (rest := was & ~here)]
        self._before.append((here, step))

    def _same_part(self, step: StepEntry) -> bool:
        return any(each is step for _, each, _ in steps_of(self._files[self._part_now].model))

    def _moment(
        self,
        document: Document,
        place: Place,
        step: StepEntry,
        moment: StepEntry | Begin,
        here: int,
    ) -> None:
        gained = moment.establishes
        for rule in self._rules:
            applies = here & self._matching(rule.when)
            if not applies:
                continue
            broken = 0
            if rule.act in gained:
                for need in rule.needs:
                    broken |= applies & ~self._holds.get(need, 0)
            if set(rule.never).intersection(gained):
                together = applies
                for fact in rule.never:
                    kept = 0 if fact in moment.voids else self._holds.get(fact, 0)
                    together &= self._space.all if fact in gained else kept
                broken |= together
            if broken:
                self._fault(
                    document, (*place, "establishes"), broken,
                    f"step {step.step!r} breaks the interlock {rule.id!r} ({rule.say})",
                    "move the step, or add what the interlock asks for before it",
                )  # fmt: skip
        for fact in moment.voids:
            self._holds[fact] = self._holds.get(fact, 0) & ~here
        self._gain(gained, here)

    def _gain(self, facts: Iterable[str], here: int) -> None:
        for fact in facts:
            self._holds[fact] = self._holds.get(fact, 0) | here
            self._ever[fact] = self._ever.get(fact, 0) | here

    def _back_to(self, document: Document, place: Place, target: str, possible: int) -> None:
        present = 0
        for variants, _ in self._steps.get(target, ()):
            present |= variants
        missing = possible & ~present
        if missing:
            self._fault(
                document, place, missing, f"back-to {target!r} is not a step of this visit",
                "name a step that is there whenever this can happen",
            )  # fmt: skip

    def _fault(
        self,
        document: Document,
        place: Place,
        variants: int,
        what: str,
        mend: str,
        include_mend: str = "change what stands before this include, or leave the part out",
        *,
        own: bool = False,
    ) -> None:
        key = (document.file, place, what)
        if key in self._faults:
            return
        example = self._space.example(variants, self._possible)
        told = f"{what}, for {example}" if example else what
        fault = document.fault(place, told, mend)
        if own or not self._way:
            self._faults[key] = Blamed(key, fault)
            return
        of_part = f"part {self._part_now!r} cannot stand here: {told} ({fault.file}:{fault.line})"
        visit = self._files[self._visit].document
        included = visit.fault(self._way, of_part, include_mend)
        self._faults[key] = Blamed(key, fault, included, self._part_now)


def _frozen(match: Match) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple((key, tuple(values)) for key, values in match.items())
