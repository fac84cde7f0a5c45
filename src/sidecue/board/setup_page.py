"""What the page shows of a case being set up by voice, as plain data."""

from __future__ import annotations

from dataclasses import asdict

from sidecue.board.page import LastHeard, Page
from sidecue.session.setting_up import SettingUp, SetUpMachine

_SHOWN = 6  # phrases of one item; the first and the last stand for longer lists


def talk(
    machine: SetUpMachine, state: SettingUp, heard: LastHeard, address: str, at: float
) -> Page:
    """Return what was said last, what may be said at `at`, and what was heard."""
    item = machine.item(state)
    return {
        "said": " ".join(state.told),
        "asked": item.entry if item is not None else "",
        "question": state.question is not None,
        "phrases": _phrases(machine, state),
        "address": "" if machine.answering(state, at) else address,
        "heard": asdict(heard),
        "closed": sorted(state.left_open),  # what is said to be complete, or left open
    }


def _phrases(machine: SetUpMachine, state: SettingUp) -> list[str]:
    """Return what may be said now, a long list by its ends."""
    cues = machine.cues(state)
    if state.question is not None:
        return [cue.phrases[0] for cue in cues if cue.id in ("confirm", "deny")]
    values = [choice.cue.phrases[0] for choice in machine.choices(state)]
    if len(values) > _SHOWN:
        values = [f"{values[0]} ... {values[-1]}"]
    own = {choice.cue.id for choice in machine.choices(state)}
    others = [cue.phrases[0] for cue in cues if cue.id not in own]
    return [*values, *others]
