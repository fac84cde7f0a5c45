"""The trade's sequences, row by row, on real plans: nothing missing, nothing more, in order.

`sequences.yaml` holds the rows with what is handed, which clock runs, what is warned of and what is
a hard prerequisite; each part and each visit names its source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
import yaml
from example_office import office, planned

from sidecue.procedure.plan import Plan, Step

DATA = yaml.safe_load(Path(__file__).with_name("sequences.yaml").read_text("utf-8"))
VISITS = {visit["visit"]: visit for visit in DATA["visits"]}
CLAMPS = {"dam-clamp", "cervical-clamp"}  # at the gum in front of the molars: the retracting one
BITE = {"I", "II", "III", "IV", "VI"}


@dataclass(frozen=True)
class Row:
    """One row of a sequence, and the steps that carry it."""

    entry: dict[str, Any]
    steps: tuple[Step, ...]

    @property
    def name(self) -> str:
        return self.entry["row"]


def asked(plan: Plan, row: dict[str, Any]) -> bool:
    """Whether a row of the opening is for this visit: the bite and the shade are not for all."""
    facts = dict(plan.case_facts)
    material = facts["material"][0]
    match row.get("when"):
        case "bite":
            return material in {"composite", "amalgam"} and facts["class"][0] in BITE
        case "shade":
            return material in {"composite", "glass-ionomer", "resin-glass-ionomer"}
    return True


def entries(plan: Plan, visit: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for entry in visit["rows"]:
        rows = DATA["parts"][entry]["rows"] if isinstance(entry, str) else [entry]
        yield from (row for row in rows if asked(plan, row))


def planned_rows(name: str) -> tuple[Plan, list[Row], list[str]]:
    """Return the plan of a visit, its rows with their steps, and what does not fit."""
    visit = VISITS[name]
    plan = planned(office(**visit.get("office", {})), **visit["case"])
    left, rows, faults = list(plan.steps), [], []
    for entry in entries(plan, visit):
        steps = []
        for fact in entry["facts"]:
            if not left or fact not in (*left[0].begin_establishes, *left[0].establishes):
                here = left[0].id if left else "the end"
                faults.append(f"row {entry['row']}: {fact} is not what {here} brings")
                return plan, rows, faults
            steps.append(left.pop(0))
        rows.append(Row(entry, tuple(steps)))
    faults += [f"step {step.id} stands in no row" for step in left]
    return plan, rows, faults


def lacking(plan: Plan, row: Row) -> Iterator[str]:
    """Yield what a row asks for and its steps do not give."""
    used = {item for step in row.steps for item in (*step.hand, *step.lay)}
    named = {caution for step in row.steps for caution in step.cautions}
    for item in row.entry.get("hand", ()):
        if used.isdisjoint(CLAMPS if item in CLAMPS else {item}):
            yield f"{item} is not handed"
    yield from (f"no caution {one}" for one in row.entry.get("cautions", ()) if one not in named)
    for name, times in row.entry.get("timers", {}).items():
        steps = [plan.steps[plan.step_index[times["step"]]]] if "step" in times else row.steps
        timers = [timer for step in steps for timer in step.timers if timer.name == name]
        if not timers:
            yield f"no clock {name}"
        for timer in timers:
            for end in ("warn", "least", "most"):
                if end in times and getattr(timer, end) != times[end]:
                    yield f"clock {name}: {end} is {getattr(timer, end)}, not {times[end]}"
    words = [text for step in row.steps for text in (step.say, step.why)]
    words += [plan.caution_by_id[one].text for one in named]
    said = " ".join(words).lower()
    yield from (f"nowhere told: {one}" for one in row.entry.get("told", ()) if one not in said)


def reached(plan: Plan, row: Row) -> set[str]:
    """Return every fact without which the steps of a row cannot be done, however it is reached:
    through needs and interlocks, and those of the steps that bring them."""
    bring: dict[str, list[Step]] = {}
    for step in plan.steps:
        for fact in (*step.begin_establishes, *step.establishes):
            bring.setdefault(fact, []).append(step)
    found: set[str] = set()
    open_ = list(row.steps)
    while open_:
        step = open_.pop()
        gains = {*step.begin_establishes, *step.establishes}
        wanted = set(step.needs)
        for rule in plan.rules:
            if rule.act in gains:
                wanted.update(rule.needs)
        for fact in wanted - found:
            found.add(fact)
            open_ += bring.get(fact, [])
    return found


def carried(name: str) -> Iterator[str]:
    """Yield, for a report, which row of a visit is carried by which steps."""
    plan, rows, faults = planned_rows(name)
    yield f"{name}: {plan.case_line}, {len(plan.steps)} steps in {len(rows)} rows"
    for row in rows:
        prompts = " / ".join(f"{step.say} [{step.id}]" for step in row.steps)
        yield f"  {row.name:9} {prompts}"
    yield from faults


@pytest.mark.parametrize("visit", VISITS)
def test_every_step_is_one_row_of_the_sequence_in_its_order(visit: str) -> None:
    _, rows, faults = planned_rows(visit)
    assert faults == []
    assert rows


@pytest.mark.parametrize("visit", VISITS)
def test_each_row_hands_times_and_warns_as_the_trade_does(visit: str) -> None:
    plan, rows, _ = planned_rows(visit)
    assert [f"{row.name}: {fault}" for row in rows for fault in lacking(plan, row)] == []


@pytest.mark.parametrize("visit", VISITS)
def test_a_hard_prerequisite_cannot_be_passed_by(visit: str) -> None:
    plan, rows, _ = planned_rows(visit)
    by_name: dict[str, list[Row]] = {}
    open_ = []
    for row in rows:
        known = reached(plan, row)
        for need in row.entry.get("needs", ()):
            before = [step for each in by_name[need] for step in each.steps]
            gains = {fact for step in before for fact in step.establishes}
            if not gains & known:
                open_.append(f"{row.name} can be done without {need}")
        by_name.setdefault(row.name, []).append(row)
    assert open_ == []
