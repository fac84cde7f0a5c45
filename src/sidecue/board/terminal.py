"""The terminal view: the same content as the board, for a machine without a browser.

State is told by word and place first; colour only repeats it.
"""

from __future__ import annotations

from dataclasses import dataclass

from rich.console import Group, RenderableType
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from sidecue.session.view import TimerView, View

_BAR = 24


@dataclass(frozen=True, slots=True)
class Heard:
    """The last utterance and what was made of it."""

    words: str = ""
    verdict: str = ""


def render(view: View, heard: Heard = Heard()) -> RenderableType:
    """Return the whole view as one renderable."""
    rows: list[RenderableType] = [_case(view), _task(view)]
    if view.emergency:
        lines = Text("\n".join(view.emergency), style="bold")
        rows.append(Panel(lines, title="EMERGENCY", border_style="bold"))
    if view.question:
        rows.append(Panel(Text(view.question, style="bold"), title="Answer within five seconds"))
    if view.timers:
        rows.append(_timers(view.timers))
    rows.append(_ears(view, heard))
    return Group(*rows)


def _case(view: View) -> RenderableType:
    line = Text()
    line.append(f"Step {view.step_number} of {view.step_count}", style="bold")
    line.append(f"   {view.case_line}   tooth {view.tooth}")
    if view.mode != "running":
        line.append(f"   {view.mode.upper()}", style="bold reverse")
    for device in view.lost:
        line.append(f"   NO {device.upper()}", style="bold reverse")
    return line


def _task(view: View) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    table.add_column(style="dim", no_wrap=True)
    table.add_column()
    table.add_row("Do", Text(view.say, style="bold"))
    if view.hand:
        table.add_row("Hand", Text(", ".join(name for _, name in view.hand), style="bold"))
    if view.following:
        table.add_row("Then", ", ".join(name for _, name in view.following))
    for caution in view.cautions:
        table.add_row("Watch", Text(f"! {caution}", style="bold"))
    for slot in view.asked:
        table.add_row("Tell", f"{slot}, to be recorded")
    if view.values:
        table.add_row("Recorded", "; ".join(view.values))
    for line in view.count:
        table.add_row("Count", line)
    if view.skipped:
        table.add_row("Left out", ", ".join(view.skipped))
    return Panel(table, title=view.step, title_align="left")


def _timers(timers: tuple[TimerView, ...]) -> RenderableType:
    table = Table.grid(padding=(0, 2))
    for timer in timers:
        filled = round(timer.fraction * _BAR)
        bar = "#" * filled + "." * (_BAR - filled)
        if timer.overdue:
            bar = "!" * _BAR
            left = Text(f"OVERDUE at {timer.elapsed:.0f} s", style="bold reverse")
        elif timer.until is None:
            left = Text(f"reached, {timer.elapsed:.0f} s")
        else:
            left = Text(f"{timer.until:.0f} s left")
        table.add_row(timer.name, Text(bar), left)
    return Panel(table, title="Timers", title_align="left")


def _ears(view: View, heard: Heard) -> RenderableType:
    lines = Text()
    if heard.words or heard.verdict:
        lines.append(f"Heard: {heard.words or 'nothing clear'} ({heard.verdict})\n")
    lines.append("Say: ", style="dim")
    lines.append(" / ".join(each.phrase for each in view.phrases))
    return lines
