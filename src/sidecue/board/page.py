"""What the page shows, as plain data: a pure projection of the session's view.

Times are seconds on the session's clock, so that the data changes only when something happens
and the page counts by itself.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from hashlib import sha256
from typing import Any

from sidecue.board.drawings import has_drawing
from sidecue.procedure.plan import Cue, Tier
from sidecue.session.keys import ENTER
from sidecue.session.view import TimerView, View

Page = dict[str, Any]

#: What may be said now falls into these groups, shown in this order.
GROUPS = ("now", "answer", "value", "ask", "other", "emergency", "later")
_OWN_KEYS = (ENTER, "d")
_STEP_CUES = (".begin", ".done")
_WAY_BACK = frozenset({"resume", "emergency-over"})


@dataclass(frozen=True, slots=True)
class LastHeard:
    """The last thing heard, pressed or typed, and what came of it."""

    words: str = ""
    verdict: str = ""
    taken: bool = True


def page(
    view: View,
    keys: Mapping[str, Cue],
    now: float,
    heard: LastHeard = LastHeard(),
    address: str = "",
) -> Page:
    """Return the page for `view`, taken at `now`.

    `keys` says which key gives which cue; `address` is the phrase to be said before a cue, empty
    where a bare cue counts.
    """
    shown: Page = {
        "kind": "session",
        "mode": view.mode,
        "title": view.title,
        "case": view.case_line,
        "tooth": view.tooth,
        "progress": {"at": view.step_number, "of": view.step_count, "skipped": list(view.skipped)},
        "step": {"name": view.step, "say": view.say, "why": view.why},
        "hand": _items(view.hand),
        "following": _items(view.following),
        "cautions": list(view.cautions),
        "timers": [_timer(timer, now) for timer in view.timers],
        "question": view.question,
        "lapses": view.lapses,
        "emergency": list(view.emergency),
        "heard": asdict(heard),
        "phrases": _phrases(view, keys),
        "address": address,
        "lost": list(view.lost),
        "said": view.last_said,
        "asked": list(view.asked),
        "values": list(view.values),
        "count": view.count_short,
        "count_lines": list(view.count),
    }
    shown["scene"] = _scene(view, keys)
    return shown


def _items(items: tuple[tuple[str, str], ...]) -> list[Page]:
    return [{"id": item, "name": name, "drawn": has_drawing(item)} for item, name in items]


def _timer(timer: TimerView, now: float) -> Page:
    """`started` is a moment of the session; `least` and `most` are seconds from it."""
    return {
        "name": timer.name,
        "kind": timer.kind.value,
        "started": round(now - timer.elapsed, 3),
        "least": timer.least,
        "most": timer.most,
        "overdue": timer.overdue,
    }


def _phrases(view: View, keys: Mapping[str, Cue]) -> list[Page]:
    # Every phrase of a slot that is asked for can be chosen too; those of a long slot, two keys.
    key_of = {cue.phrases[0]: (key, cue.id) for key, cue in keys.items()}
    rows = []
    for each in view.phrases:
        key, cue = key_of.get(each.phrase, ("", ""))
        group = _group(key, cue, each.tier, asked=bool(view.question))
        if each.choices and not view.question:
            group = "value"
        row: Page = {
            "phrase": each.phrase, "means": each.means, "tier": each.tier, "key": key, "cue": cue,
            "group": group,
        }  # fmt: skip
        if each.choices:
            row["choices"] = [
                {"phrase": phrase, "key": key_of[phrase][0], "cue": key_of[phrase][1],
                 "tier": each.tier}
                for phrase in each.choices if phrase in key_of
            ]  # fmt: skip
        rows.append(row)
    return sorted(rows, key=lambda row: GROUPS.index(row["group"]))


def _group(key: str, cue: str, tier: str, *, asked: bool) -> str:
    if tier == Tier.ALARM:
        return "emergency"
    if tier == Tier.STOP:
        return "other"
    if asked:
        return "answer"
    if key in _OWN_KEYS or cue in _WAY_BACK:
        return "now"
    if cue.startswith("set."):
        return "value"
    if tier == Tier.GUARDED and cue.endswith(_STEP_CUES):
        return "later"
    return "ask" if tier == Tier.FREE else "other"


def _scene(view: View, keys: Mapping[str, Cue]) -> str:
    """Return a mark that changes whenever a press could come to mean something else."""
    own = [keys[key].id for key in _OWN_KEYS if key in keys]
    parts = (view.mode, str(view.step_number), view.question, *own)
    return sha256("\x1f".join(parts).encode()).hexdigest()[:16]
