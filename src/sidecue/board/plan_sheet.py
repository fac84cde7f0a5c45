"""The plan as a sheet: what to lay out, what sets, what to watch, and what is still open."""

from __future__ import annotations

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from sidecue.board.tray_card import passes_of
from sidecue.procedure.plan import Plan, Step, TimerSpec
from sidecue.session.prompts import short_name

DISCLAIMER = (
    "A reminder and record aid. It decides neither treatment nor dose: local rules, the makers' "
    "instructions and the licensed clinician win."
)


def sheet(plan: Plan) -> RenderableType:
    """Return the whole plan as one renderable, in the order a person prepares."""
    parts: list[RenderableType] = [Text(plan.title, style="bold"), Text(plan.case_line)]
    parts.append(Text(f"Tooth {plan.tooth_spoken}. Practice: {plan.practice}."))
    parts += _notices("Refused", [f"{each.text} ({each.source})" for each in plan.blocks])
    parts += _notices("Answer first", [f"{each.ask} -> {each.mend}" for each in plan.questions])
    parts += _notices("Warnings", [f"{each.text} ({each.source})" for each in plan.warnings])
    decided = [f"{each.name}: {each.text} ({each.source})" for each in plan.preparations]
    parts += _notices("Decided by the case", decided)
    parts += [_heading(f"Tray: {len(plan.tray)} things, in order of first use"), _tray(plan)]
    passes = [f"{heading}: {text}" for heading, text in passes_of(plan)]
    parts += _notices("How it is handed", passes)
    if plan.materials:
        parts += [_heading("Materials and the makers' times"), _materials(plan)]
    parts += [_heading(f"Steps: {len(plan.steps)}"), _steps(plan)]
    cautions = [f"{each.say} {each.text} ({each.source})" for each in plan.cautions]
    parts += _notices("Cautions", cautions)
    parts.append(Text(f"\n{DISCLAIMER}", style="italic"))
    return Group(*parts)


def _heading(text: str) -> Text:
    return Text(f"\n{text}", style="bold underline")


def _notices(title: str, lines: list[str]) -> list[RenderableType]:
    return [_heading(title), *(Text(f"- {line}") for line in lines)] if lines else []


def _tray(plan: Plan) -> Table:
    table = _table("", "Instrument", "For", "First at")
    for number, item in enumerate(plan.tray, start=1):
        first = short_name(item.steps[0]) if item.steps else ""
        table.add_row(str(number), item.label, item.use, first)
    return table


def _materials(plan: Plan) -> Table:
    table = _table("Role", "Product", "Times")
    for material in plan.materials:
        times = ", ".join(f"{short_name(name)} {_lasts(s)}" for name, s in material.times)
        table.add_row(short_name(material.role), material.product, times or "none")
    return table


def _steps(plan: Plan) -> Table:
    table = _table("", "Prompt", "Hand", "Say when done", "Timer")
    for number, step in enumerate(plan.steps, start=1):
        prompt = step.say + (" (optional)" if step.optional else "")
        timers = "; ".join(_timer(each) for each in step.timers)
        names = dict.fromkeys((*step.lay, *step.hand))
        hand = ", ".join(plan.tray_by_id[name].spoken for name in names)
        table.add_row(str(number), prompt, hand, _cues(step), timers)
    return table


def _cues(step: Step) -> str:
    done = step.done.phrases[0]
    return done if step.begin is None else f"{step.begin.phrases[0]} … {done}"


def _timer(timer: TimerSpec) -> str:
    ends = [f"at least {_lasts(timer.least)}"] if timer.least is not None else []
    ends += [f"at most {_lasts(timer.most)}"] if timer.most is not None else []
    return f"{short_name(timer.name)}: {', '.join(ends)}"


def _lasts(seconds: float) -> str:
    if seconds < 120:
        return f"{seconds:g} s"
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes} min" + (f" {rest} s" if rest else "")


def _table(*columns: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    for column in columns:
        table.add_column(column)
    return table
