"""The terminal view tells what the board shows, for a machine without a browser."""

import io

from rich.console import Console
from seated import PLAN

from sidecue.board.ear import Ear
from sidecue.board.page import LastHeard, page
from sidecue.board.terminal import render, ticking
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


def drawn(state, now, heard=NOTHING, ear=DEAF, typed=None):
    out = io.StringIO()
    seen = view(MACHINE, state, now)
    Console(file=out, width=100).print(
        render(seen, now, heard, ear, keys_of(state), PLAN.address, typed)
    )
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


def test_stopping_words_and_emergencies_are_told_apart_from_what_needs_the_address():
    state, now = at_step("etch-dentine")
    text = drawn(state, now, ear=Ear("listening", 4))
    bare, addressed = text.split("In every state, just say: ")[1].split('Say "okay tray", then: ')
    for each in ("pause procedure", "medical emergency", "stop talking"):
        assert each in bare
        assert each not in addressed
    assert "what comes next" in addressed
    assert "what comes next" not in bare
    assert "stop talking [q] (while it speaks)" in bare
    assert "stop talking [q] /" in drawn(state, now), "what is typed always counts"


def test_in_an_emergency_its_lines_come_first_and_the_step_is_gone():
    state, now = at_step("etch-dentine")
    say = PLAN.steps[PLAN.step_index["etch-dentine"]].say
    emergency = PLAN.emergencies[0]
    assert say in drawn(state, now)
    state, _ = MACHINE.step(state, CueGiven(now, emergency.cue.id))
    text = drawn(state, now)
    assert text.index("EMERGENCY") < text.index(emergency.says[0]) < text.index("Step ")
    assert say not in text
    assert "Timers" in text, "the acid works on"


def test_what_is_typed_is_shown_as_it_is_typed():
    state, now = at_step("take-shade")
    assert "> okay tray sha_" in drawn(state, now, typed="okay tray sha")


def test_the_picture_changes_by_time_alone_only_where_a_figure_does():
    def seen(at):
        return ticking(view(MACHINE, state, at), at)

    state, now = at_step("take-shade")
    assert seen(now) == seen(now + 600.0), "nothing runs: nothing changes"
    state, now = at_step("etch-dentine")
    pictures = [drawn(state, now + tenths / 10) for tenths in range(50)]
    changes = [seen(now + tenths / 10) for tenths in range(50)]
    for one, other in zip(range(49), range(1, 50), strict=True):
        assert (pictures[one] == pictures[other]) == (changes[one] == changes[other])
