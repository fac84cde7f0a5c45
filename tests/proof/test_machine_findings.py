"""What the exploration found in the machine, each as the dialogue that showed it."""

from __future__ import annotations

from proof_plan import changed, small_plan

from sidecue.procedure.plan import Plan
from sidecue.session.effects import Refuse
from sidecue.session.events import CueGiven, Started
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState

WAY = (
    ("agree.done", 1), ("look.done", 1), ("etch.done", 1), ("rinse.begin", 16),
    ("rinse.done", 20), ("shield.done", 1), ("cure.begin", 1), ("cure.done", 21),
    ("paint.done", 1), ("dry.done", 31), ("mix.done", 1), ("pack.done", 1),
)  # fmt: skip


class Chair:
    """A visit just before `cue` is said."""

    def __init__(self, cue: str, plan: Plan | None = None) -> None:
        self.machine = SessionMachine(plan or small_plan())
        self.state, _ = self.machine.step(self.machine.first(), Started(0.0))
        self.refused = False
        for name, wait in WAY:
            if name == cue:
                return
            self.say(name, wait)

    def say(self, cue: str, wait: float = 1.0) -> SessionState:
        self.state, effects = self.machine.step(self.state, CueGiven(self.state.now + wait, cue))
        self.refused = any(isinstance(effect, Refuse) for effect in effects)
        return self.state

    def started(self, timer: str) -> float:
        return next(each.started for each in self.state.timers if each.spec.name == timer)


def test_undoing_twice_makes_no_fresh_material() -> None:
    chair = Chair("mix.done")
    chair.say("mix.done")
    mixed_at = chair.started("packing")
    chair.say("undo", 60.0)  # the mix stands
    chair.say("mix.done", 30.0)  # confirmed again: the clock keeps counting
    chair.say("undo", 30.0)
    assert chair.state.standing == "mix"
    chair.say("mix.done", 30.0)
    assert chair.started("packing") == mixed_at


def test_a_light_that_was_switched_on_cannot_be_skipped_after_an_undo() -> None:
    chair = Chair("cure.begin")
    chair.say("cure.begin")
    chair.say("undo")
    assert not chair.state.under_way
    assert "light-on" in chair.state.facts
    chair.say("skip")
    assert chair.refused
    assert chair.state.question is None


def test_leaving_out_the_step_that_waits_does_not_shorten_a_minimum() -> None:
    chair = Chair("dry.done")
    chair.say("skip")
    assert chair.refused, "the varnish is still wet"
    chair.say("skip", 40.0)
    assert not chair.refused, "dry, if nobody said so"


def test_a_clock_that_timed_a_spoilt_part_ends_with_it() -> None:
    chair = Chair("cure.begin")
    chair.say("cure.begin")
    chair.say("undo")  # the light is on, its clock runs
    chair.say("saliva")
    chair.say("confirm")
    assert chair.state.step == "etch"
    assert [each.spec.name for each in chair.state.timers if each.spec.name == "cure"] == []


def test_a_mix_that_would_spoil_is_not_left_out_but_used_or_lost() -> None:
    chair = Chair("pack.done", small_plan(changed("count", needs=())))
    chair.say("skip")
    assert chair.refused, "packing ends the clock of the mix: unpacked, it would alarm much later"
    chair.say("pack.done")
    assert chair.state.step == "count"
