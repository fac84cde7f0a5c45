"""The tray card: what one sheet of paper beside the tray says, as plain data.

Everything comes from the plan. What is to be laid out stands in order of first use, grouped by the
part of the visit that first needs it; beside it how things are handed, which products with which
times and lots, what to watch, and what is still open. `tray_html` and `tray_pdf` print it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from sidecue.clinical.teeth import Tooth
from sidecue.procedure.plan import Plan, PlanMaterial, Step, TimerKind, TimerSpec
from sidecue.session.prompts import short_name

DISCLAIMER = (
    "Reminder and record aid. Local rules, the makers' instructions and the licensed clinician win."
)
MOST_CAUTIONS = 22  # on a crowded card; where there is room, `tray_pdf.filled` puts on more
#: What the case decides that has to lie ready, by the name it has in the plan.
LAID_OUT = frozenset({"clamp", "hole sizes", "matrix", "wedge", "layers", "capsules", "condenser"})
_DETAILS = {  # what the card leaves to the plan
    "clamp": re.compile(r" \([^)]*\)|, tied .*"),
    "hole sizes": re.compile(r", .*"),
    "matrix": re.compile(r", .*"),
    "layers": re.compile(r", .*"),
}
MOST_STOPS, MOST_WARNINGS = 5, 5  # lines; the rest is counted, the plan has them all

#: How a thing is handed, as it is marked on the card. Single passes carry no mark.
MARKS: Mapping[str, str] = {
    "pair": "PAIR",
    "two-handed": "2 HANDS",
    "hidden": "HIDDEN",
    "placed": "SET OUT",
}


@dataclass(frozen=True, slots=True)
class Cell:
    """One thing on the tray. `group` is the heading it stands under."""

    number: int
    instrument: str
    name: str
    passing: str
    group: str

    @property
    def mark(self) -> str:
        """How it is handed, in a word or two; empty for an ordinary pass."""
        return MARKS.get(self.passing, "")


@dataclass(frozen=True, slots=True)
class Product:
    """One product: what it is for, its lot, its times as short phrases, its storage warning."""

    role: str
    name: str
    lot: str
    times: tuple[str, ...]
    storage: str
    shades: str


@dataclass(frozen=True, slots=True)
class Card:
    """A tray card. `stops` are refusals; `watch` holds the cautions that matter most, then
    others."""

    title: str
    case_line: str
    tooth: str
    practice: str
    when: str
    marked: Tooth | None
    cells: tuple[Cell, ...]
    passes: tuple[tuple[str, str], ...]  # heading, text
    products: tuple[Product, ...]
    stops: tuple[str, ...]
    questions: tuple[str, ...]
    warnings: tuple[str, ...]
    chosen: tuple[tuple[str, str], ...]  # what this tooth takes: clamp, holes, matrix, capsules
    watch: tuple[str, ...]
    further: tuple[str, ...]  # cautions that are not on the card, those that matter most first

    @property
    def more_cautions(self) -> int:
        """How many cautions only the plan has."""
        return len(self.further)

    def watching(self, more: int) -> Card:
        """Return the card with so many further cautions on it."""
        watch = (*self.watch, *self.further[:more])
        return replace(self, watch=watch, further=self.further[more:])


def card_of(
    plan: Plan, titles: Mapping[str, str], tooth: Tooth | None = None, when: str = ""
) -> Card:
    """Return the card of a plan. `titles` names the parts of a visit; `when` is day and time."""
    watch = _watch(plan)
    rest = (each.say for each in plan.cautions)
    cautions = tuple(dict.fromkeys((*watch, *rest)))
    most = min(len(watch), MOST_CAUTIONS)
    return Card(
        title=plan.title,
        case_line=plan.case_line,
        tooth=plan.tooth_spoken,
        practice=plan.practice,
        when=when,
        marked=tooth,
        cells=tuple(_cells(plan, titles)),
        passes=tuple(passes_of(plan)),
        products=tuple(_product(plan, material) for material in plan.materials),
        stops=_some([_sentence(each.text) for each in plan.blocks], MOST_STOPS),
        questions=_some(
            [each.ask for each in plan.questions],
            max(1, MOST_STOPS - min(len(plan.blocks), MOST_STOPS)),
        ),
        warnings=_some([_sentence(each.text) for each in plan.warnings], MOST_WARNINGS),
        chosen=tuple(_chosen(plan)),
        watch=cautions[:most],
        further=cautions[most:],
    )


def _chosen(plan: Plan) -> Iterator[tuple[str, str]]:
    for each in plan.preparations:
        if each.name in LAID_OUT:
            details = _DETAILS.get(each.name)
            yield each.name, each.text if details is None else details.sub("", each.text)


def _cells(plan: Plan, titles: Mapping[str, str]) -> Iterator[Cell]:
    parts = {step.id: step.part for step in plan.steps}
    for number, item in enumerate(plan.tray, start=1):
        part = parts.get(item.steps[0], "") if item.steps else ""
        group = _short(titles.get(part, short_name(part)))
        name = _short(item.name)
        if item.count > 1:
            name = f"{item.count} x {name}"
        yield Cell(number, item.instrument, name, item.passing, group)


def alike(cells: Sequence[Cell], number: int, columns: int) -> int:
    """Return how many cells from `number` on, in its row of `columns`, stand in its group."""
    end = min(len(cells), number - number % columns + columns)
    group = cells[number].group
    return next((i for i in range(number, end) if cells[i].group != group), end) - number


def _short(text: str) -> str:
    return text.partition(",")[0].strip()


def passes_of(plan: Plan) -> Iterator[tuple[str, str]]:
    """Yield how things are handed, each as heading and text: in pairs, with two hands, unseen."""
    pairs: dict[tuple[str, ...], None] = {}
    for step in plan.steps:
        together = tuple(
            plan.tray_by_id[name].spoken
            for name in step.hand
            if plan.tray_by_id[name].passing == "pair"
        )
        if len(together) > 1:
            pairs.setdefault(together)
    if pairs:
        yield "In pairs", "; ".join(" + ".join(each) for each in pairs)
    for passing, heading in (
        ("two-handed", "With two hands"),
        ("hidden", "Out of the patient's sight"),
    ):
        names = [_short(item.name) for item in plan.tray if item.passing == passing]
        if names:
            yield heading, "; ".join(names)
    if any(item.passing == "single" for item in plan.tray):
        yield "All the rest", "one hand, below the chin, working end set for the arch"


def _product(plan: Plan, material: PlanMaterial) -> Product:
    lot = f"lot {material.lot}" if material.lot else "lot not entered"
    if material.expiry:
        lot += f", to {material.expiry}"
    return Product(
        role=short_name(material.role),
        name=material.product,
        lot=lot,
        times=tuple(_times(plan, material)),
        storage=material.storage,
        shades=" ".join(material.shades),
    )


def _times(plan: Plan, material: PlanMaterial) -> Iterator[str]:
    """Yield the times of a product as the visit uses them, each once."""
    told: set[str] = set()
    for step in plan.steps:
        for timer in step.timers:
            products = (each.partition(" of ")[2] for each in timer.source.split("; "))
            if material.product not in products:
                continue
            phrase = f"{_timer_name(timer)} {span(timer) or 'TIME MISSING'}"
            if phrase not in told:
                told.add(phrase)
                yield phrase


def _timer_name(timer: TimerSpec) -> str:
    """Return a timer's name without the number of its layer."""
    return short_name(timer.name).rstrip("0123456789 ")


def span(timer: TimerSpec) -> str:
    """Return what a timer asks: `at most 15 s`, `15 s to 30 s`, `at least 20 s`, `about 2 min`."""
    if timer.kind is TimerKind.COUNT_DOWN:
        end = timer.most if timer.most is not None else timer.least
        return "" if end is None else f"about {lasts(end)}"
    if timer.least is not None and timer.most is not None:
        return f"{lasts(timer.least)} to {lasts(timer.most)}"
    if timer.most is not None:
        return f"at most {lasts(timer.most)}"
    return "" if timer.least is None else f"at least {lasts(timer.least)}"


def lasts(seconds: float) -> str:
    """Return a time as it is read at the tray: `90 s`, `3 min 30 s`."""
    if seconds < 120:
        return f"{seconds:g} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min" + (f" {rest} s" if rest else "")


def _some(lines: Sequence[str], most: int) -> tuple[str, ...]:
    """Return the first lines, and how many more there are in the place of the last."""
    if len(lines) <= most:
        return tuple(lines)
    return (*lines[: most - 1], f"and {len(lines) - most + 1} more, see `sidecue plan`")


def _sentence(text: str) -> str:
    return text[:1].upper() + text[1:]


def _watch(plan: Plan) -> tuple[str, ...]:
    """Return the cautions that matter most, in order of the visit: those of steps that an
    interlock waits for, that have a limit in time, or whose pass is hidden."""
    needed = {fact for rule in plan.rules for fact in rule.needs}
    names = (name for step in plan.steps if _matters(plan, step, needed) for name in step.cautions)
    return tuple(plan.caution_by_id[name].say for name in dict.fromkeys(names))


def _matters(plan: Plan, step: Step, needed: set[str]) -> bool:
    passing = {plan.tray_by_id[name].passing for name in step.hand}
    limited = any(timer.kind is not TimerKind.COUNT_DOWN for timer in step.timers)
    gained = {*step.establishes, *step.begin_establishes}
    return limited or "hidden" in passing or not needed.isdisjoint(gained)
