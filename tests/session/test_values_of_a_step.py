"""A step that asks for a value, settles by it, and may have to wait all the same."""

from __future__ import annotations

from dataclasses import replace

from builder import CURE, Visit, cue, small_plan, step, visit

from sidecue.procedure.plan import Caution, Plan, Slot, SlotValue, Step, Tier
from sidecue.session.effects import Say, Urgency


def shade(name: str) -> SlotValue:
    return SlotValue(name, cue(f"set.shade.{name}", tier=Tier.GUARDED), f"Shade {name}")


PLANNED = Slot(
    "shade", (shade("A2"),), expected="Shade A2", others=cue("set.shade.others", tier=Tier.GUARDED),
    caution="shade",
)  # fmt: skip


def plan_asking(*steps: Step, slot: Slot | None = None) -> Plan:
    asked = slot or Slot("shade", (shade("A2"), shade("A3")))
    plan = small_plan(steps=steps, rules=(), happenings=())
    cautions = (*plan.cautions, Caution("shade", "Agree the shade again.", "Agree it.", "test"))
    return replace(plan, slots=(asked,), cautions=cautions)


def asking(*before: Step, needs: tuple[str, ...] = (), stops: tuple[str, ...] = ()) -> Visit:
    match = step("match", asks=("shade",), settles=True, needs=needs, stops=stops)
    return visit(plan_asking(*before, match, step("tidy", establishes=("tidied",))))


def confirmed(going: Visit) -> Visit:
    return going.cues("set.shade.A2", "confirm")


def test_a_step_that_asks_for_a_value_alone_is_done_by_it() -> None:
    going = confirmed(asking())
    assert (going.state.step, going.state.done) == ("tidy", ("match",))
    assert " ".join(going.cue("undo").said) == "Taken back: shade A2. Back to match."
    assert (going.state.step, going.state.values) == ("match", ())


def test_another_value_answers_the_read_back_and_is_read_back_itself() -> None:
    going = asking().cues("set.shade.A2", "set.shade.A3")
    assert going.said == ["Shade A3. Say confirm that."]
    assert going.state.values == ()
    going.cue("confirm")
    assert [each.value for each in going.state.values] == ["A3"]


def test_a_value_stands_though_its_step_must_wait() -> None:
    going = asking(step("cure", timers=(CURE,)), stops=("cure",)).cue("cure.done")
    confirmed(going.wait(1))
    assert going.refusals == []
    assert going.said == ["Recorded: shade A2."]
    assert going.chimes == ["heard"]
    assert (going.state.step, going.running) == ("match", {"cure"}), "the light goes on shining"
    assert [each.value for each in going.state.values] == ["A2"]
    assert going.cue("repeat").said == ["Recorded: shade A2."]
    assert going.cue("undo").said == ["Taken back: shade A2."]
    assert (going.state.step, going.state.values) == ("match", ())


def test_a_value_stands_though_its_step_lacks_what_it_needs() -> None:
    going = confirmed(asking(needs=("tidied",)))
    assert going.refusals == []
    assert going.said == ["Recorded: shade A2."]
    assert going.state.step == "match"
    assert going.cue("match.done").refusals[0].why == "Not yet. First: tidied."


def test_an_undo_tells_the_value_it_takes_back_and_what_stands() -> None:
    """The layer was painted in that shade; its name is taken back, the layer is not."""
    match = step("paint", asks=("shade",), settles=True, establishes=("packed",))
    going = confirmed(visit(plan_asking(match, step("tidy")))).cue("undo")
    assert " ".join(going.said) == "Taken back: shade A2. Back to paint. Still true: packed."
    assert going.state.values == ()
    assert going.state.facts == {"packed"}


def test_what_disagrees_with_the_plan_is_refused_by_name_with_its_caution() -> None:
    plan = plan_asking(step("match", asks=("shade",)), step("tidy"), slot=PLANNED)
    going = visit(plan).cue("set.shade.others")
    assert [each.cue for each in going.refusals] == ["set.shade.others"]
    assert [e for e in going.effects if isinstance(e, Say)] == [
        Say("Not agreed. Shade A2 is planned.", Urgency.CAUTION),
        Say("Agree the shade again.", Urgency.CAUTION),
    ]
    assert going.state.question is None
    assert going.state.values == ()


def test_asking_again_says_the_value_and_what_the_plan_says() -> None:
    slot = Slot("shade", (shade("A2"), shade("A3")), expected="Shade A2")
    going = visit(plan_asking(step("match", asks=("shade",)), step("tidy"), slot=slot))
    going.cues("set.shade.A3", "confirm")
    told = ["Recorded: shade A3.", "The plan says: shade A2."]
    assert going.said == told
    assert " ".join(going.cue("repeat").said) == " ".join(told)


def entries() -> Visit:
    """Two entries of a slot of many have been confirmed, and the last is about to be struck."""
    slot = Slot("syringes", (shade("A2"), shade("A3")), many=True)
    plan = plan_asking(step("fill", asks=("syringes",)), step("tidy"), slot=slot)
    going = visit(replace(plan, cues=(*plan.cues, cue("strike", tier=Tier.GUARDED))))
    return going.cues("set.shade.A2", "confirm", "set.shade.A3", "confirm", "strike")


def kept(going: Visit) -> list[str]:
    return [each.value for each in going.state.values]


def test_the_last_entry_is_struck_by_a_different_word() -> None:
    going = entries()
    assert going.state.question is not None
    assert (going.state.question.target, going.state.question.cue) == ("syringes", "strike")
    assert going.said == ["Strike shade A3? Say confirm that."]
    going.cue("confirm")
    assert kept(going) == ["A2"]
    assert (going.said, going.chimes) == (["Struck: shade A3."], ["heard"])
    going.cue("undo")
    assert kept(going) == ["A2", "A3"]
    assert going.said == ["Counted again: shade A3."]


def test_a_no_to_striking_strikes_nothing() -> None:
    going = entries().cue("deny")
    assert kept(going) == ["A2", "A3"]
    assert going.said == ["All right. Nothing changed."]


def test_silence_strikes_nothing() -> None:
    assert kept(entries().wait(60)) == ["A2", "A3"]


def test_nothing_is_struck_where_nothing_was_entered() -> None:
    going = entries().cue("confirm").cues("strike", "confirm")
    assert kept(going) == []
    assert "strike" not in going.active
