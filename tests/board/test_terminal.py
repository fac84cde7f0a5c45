"""The terminal view tells what the board shows, for a machine without a browser."""

import io

from rich.console import Console
from seated import PLAN

from sidecue.board.feed import Ear
from sidecue.board.page import LastHeard, page
from sidecue.board.terminal import render
from sidecue.session.events import CueGiven, Started
from sidecue.session.keys import keys_for
from sidecue.session.machine import SessionMachine
from sidecue.session.view import view

MACHINE = SessionMachine(PLAN)
NOTHING, DEAF = LastHeard(), Ear()


def at_step(name):
    """Return the state at a step, as if all before it were done."""
    state, now = MACHINE.step(MACHINE.first(), Started(0.0))[0], 0.0
    for _ in range(300):
        step = PLAN.steps[PLAN.step_index[state.step]]
        if step.id == name:
            return state, now
        now += 30.0 if state.question is None else 1.0
        cue = step.done if state.under_way or step.begin is None else step.begin
        if state.question is not None:
            cue = next(each for each in PLAN.cues if each.id == "confirm")
        state, _ = MACHINE.step(state, CueGiven(now, cue.id))
    raise AssertionError(name)


def keys_of(state):
    step = PLAN.steps[PLAN.step_index[state.step]]
    return keys_for(
        MACHINE.cues_now(state), [c.id for c in (step.begin, step.done) if c is not None]
    )


def drawn(state, now, heard=NOTHING, ear=DEAF):
    out = io.StringIO()
    seen = view(MACHINE, state, now)
    Console(file=out, width=100).print(render(seen, now, heard, ear, keys_of(state), PLAN.address))
    return " ".join(out.getvalue().replace("│", " ").split())


def test_it_holds_every_word_of_the_board():
    state, now = at_step("etch-dentine")
    heard = LastHeard("what about lunch", "not a cue of this step", taken=False)
    shown = page(view(MACHINE, state, now), keys_of(state), now, heard, PLAN.address)
    text = drawn(state, now, heard, Ear("listening", 4))
    words = [
        shown["case"], shown["tooth"], shown["step"]["say"], *shown["cautions"], shown["address"],
        *(each["name"] for each in shown["hand"] + shown["following"] + shown["timers"]),
        *(each["phrase"] for each in shown["phrases"]), *shown["count_lines"], heard.words,
        heard.verdict, "NOT TAKEN", "wait 15 s", "listening ####......",
        f"Step {shown['progress']['at']} of",
    ]  # fmt: skip
    assert shown["timers"]
    assert [each for each in words if each not in text] == []
    assert all(f"{each['phrase']} [{each['key']}]" in text for each in shown["phrases"][:1])


def test_a_question_tells_how_long_it_waits():
    state, now = at_step("log-anaesthetic")
    cue = next(value.cue for slot in PLAN.slots for value in slot.values
               if slot.id == "cartridges")  # fmt: skip
    state, _ = MACHINE.step(state, CueGiven(now, cue.id))
    left = state.question.lapses - now
    assert left >= 5
    assert f"Answer within {left:.0f} s, else no" in drawn(state, now)
    assert f"Answer within {left - 3:.0f} s, else no" in drawn(state, now + 3)
