"""The terminal view: the same content as the board, for a machine without a browser.

State is told by word and place first; colour only repeats it.
"""

from __future__ import annotations

from collections.abc import Mapping

from rich.console import Group, RenderableType
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from sidecue.board.ear import Ear
from sidecue.board.page import LastHeard
from sidecue.procedure.plan import Cue, Tier, TimerKind
from sidecue.session.view import PhraseView, TimerView, View

_BAR = 24
_BARE = "In every state, just say: "  # stopping words and emergencies need no address
_NOTHING, _DEAF = LastHeard(), Ear()
_EARS = {
    "listening": "listening",
    "held": "pedal held: just speak",
    "speaking": "speaking: only stops and alarms count",
    "lost": "MICROPHONE LOST",
    "none": "keys only, no microphone",
}


def render(
    view: View,
    now: float,
    heard: LastHeard = _NOTHING,
    ear: Ear = _DEAF,
    keys: Mapping[str, Cue] | None = None,
    address: str = "",
    typed: str | None = None,
) -> RenderableType:
    """Return the whole view as one renderable: all that the board shows but the drawings.

    `now` is on the session's clock, in seconds; `keys` says which key gives which cue; `address`
    is to be said before a cue, empty where a bare cue counts; `typed` is the line being typed, None
    where no line is. In an emergency nothing of the procedure stands above its lines but timers and
    the question go on.
    """
    rows: list[RenderableType] = [_case(view), _task(view)]
    if view.emergency:
        lines = Text("\n".join(view.emergency), style="bold")
        rows = [Panel(lines, title="EMERGENCY", border_style="bold"), _case(view)]
    if view.question:
        title = "Answer"
        if view.lapses is not None:
            title += f" within {max(0.0, view.lapses - now):.0f} s, else no"
        rows.append(Panel(Text(view.question, style="bold"), title=title))
    if view.timers:
        rows.append(_timers(view.timers))
    if typed is not None:
        rows.append(Text(f"> {typed}_", style="bold"))
    rows.append(_ears(view, heard, ear, keys or {}, address))
    return Group(*rows)


def ticking(view: View, now: float) -> tuple[object, ...]:
    """Return what of the picture changes by time alone, as it is shown: while it is the same, and
    nothing happens, the picture is, too."""
    left = None if view.lapses is None else f"{max(0.0, view.lapses - now):.0f}"
    return (left, *((each.name, _bar(each), _state(each)) for each in view.timers))


def _case(view: View) -> RenderableType:
    line = Text()
    line.append(f"Step {view.step_number} of {view.step_count}", style="bold")
    line.append(f"   {view.case_line}   tooth {view.tooth}")
    if view.mode != "running":
        line.append(f"   {view.mode.upper()}", style="bold reverse")
    for device in view.lost:
        line.append(f"   {device.upper()} LOST", style="bold reverse")
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
    if view.why and not view.hand:
        table.add_row("", Text(view.why, style="dim"))
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
        left = Text(_state(timer), style="bold reverse" if timer.overdue else "")
        table.add_row(timer.name, Text(_bar(timer)), left)
    return Panel(table, title="Timers", title_align="left")


def _bar(timer: TimerView) -> str:
    filled = round(timer.fraction * _BAR)
    return "!" * _BAR if timer.overdue else "#" * filled + "." * (_BAR - filled)


def _state(timer: TimerView) -> str:
    if timer.overdue:
        return f"OVERDUE at {timer.elapsed:.0f} s"
    if timer.until is None:
        return f"reached, {timer.elapsed:.0f} s"
    return _left(timer, timer.until)


def _left(timer: TimerView, until: float) -> str:
    """Return what is left, by what it is left for: the same words as on the board."""
    if timer.least is not None and timer.elapsed < timer.least:
        return f"wait {until:.0f} s"
    if timer.kind in (TimerKind.HARD_MAXIMUM, TimerKind.WINDOW):
        return f"stop in {until:.0f} s"
    return f"{until:.0f} s left"


def _ears(
    view: View, heard: LastHeard, ear: Ear, keys: Mapping[str, Cue], address: str
) -> RenderableType:
    key_of = {cue.phrases[0]: key for key, cue in keys.items()}
    lines = Text(f"Microphone: {_EARS.get(ear.state, ear.state)}")
    if ear.state not in ("none", "lost"):
        lines.append(f" {'#' * ear.level}{'.' * (10 - ear.level)}")
    if heard.words or heard.verdict:
        taken = "taken" if heard.taken else "NOT TAKEN"
        lines.append(f"\nHeard: {heard.words or 'nothing clear'} ({taken}: {heard.verdict})")
    quiet = {cue.phrases[0] for cue in keys.values() if cue.id == "quiet"}
    only = " (while it speaks)" if ear.state != "none" else ""  # what is typed always counts
    addressed = f'Say "{address}", then: ' if address else "Just say: "
    for start, bare in ((_BARE, True), (addressed, False)):  # a low terminal cuts off the end
        said = [
            _phrase(each, key_of) + (only if each.phrase in quiet else "")
            for each in view.phrases
            if Tier(each.tier).always == bare
        ]
        if said:
            lines.append(f"\n{start}", style="dim")
            lines.append(" / ".join(said))
    return lines


def _phrase(each: PhraseView, key_of: Mapping[str, str]) -> str:
    key = key_of.get(each.phrase)
    return each.phrase if key is None else f"{each.phrase} [{key}]"
