"""Values in the record: what stands, what was taken back, what was never spoken."""

from __future__ import annotations

import json

from value_chair import Chair, chair, plan_for

from sidecue.record.event_codec import event_from_json, event_to_json
from sidecue.record.fhir import fhir_bundle
from sidecue.record.note import chart_note
from sidecue.record.port import Seal
from sidecue.record.story import Story
from sidecue.record.telling import tell
from sidecue.record.timeline_csv import timeline_csv
from sidecue.session.machine import SessionMachine

OPENED = "2026-03-02T09:30:00+01:00"
SEAL = Seal(1, "ab" * 32)


def story_of(going: Chair) -> Story:
    return tell(going.machine.plan, going.events)


def section(going: Chair, title: str) -> list[str]:
    text = chart_note(story_of(going), OPENED, "visit", SEAL)
    body = text.split(f"## {title}\n\n", 1)[1].split("\n## ", 1)[0]
    return [line.split(" ", 2)[-1] for line in body.strip().splitlines()]


def values_of(going: Chair) -> list[str]:
    return section(going, "Values, read back and confirmed")


def at_log() -> Chair:
    return chair(plan_for(), "log-anaesthetic")


def test_a_confirmed_value_is_in_the_note_with_its_count():
    going = at_log().say("one cartridge lidocaine", "confirm that", "anaesthetic logged")
    assert "One cartridge lidocaine" in values_of(going)
    counted = "\n".join(section(going, "Anaesthetic count"))
    assert "1 cartridge, 36 mg lidocaine, 18 ug epinephrine" in counted
    assert "lower limits (of this practice)" in chart_note(story_of(going), OPENED, "visit", SEAL)
    assert "us-label limits" in chart_note(story_of(going), OPENED, "visit", SEAL)


def test_what_differs_from_the_plan_is_marked_for_whoever_reads_the_note():
    going = at_log().say("one cartridge articaine", "confirm that")
    assert "One cartridge articaine (PLANNED lidocaine)" in values_of(going)
    deeper = chair(plan_for(), "mark-bite").say("depth six millimetres", "confirm that")
    assert "Depth 6 millimetres (PLANNED depth 4 millimetres)" in values_of(deeper)
    as_planned = chair(plan_for(), "mark-bite").say("depth four millimetres", "confirm that")
    assert "Depth 4 millimetres" in values_of(as_planned)


def test_what_was_only_read_back_is_not_in_the_note():
    going = at_log().say("one cartridge lidocaine", "cancel that question")
    assert not [line for line in values_of(going) if "lidocaine" in line]
    assert section(going, "Anaesthetic count")[-1].endswith("counted.")


def test_what_was_taken_back_struck_or_replaced_stays_visible():
    going = at_log()
    going.say("one cartridge lidocaine", "confirm that", "take that back")
    going.say("one cartridge articaine", "confirm that")
    going.say("strike the last entry", "confirm that")
    lines = [line for line in values_of(going) if "cartridge " in line]
    assert [line.split(": ")[1].split(" ")[0] for line in lines] == ["TAKEN", "STRUCK"]
    weighed = chair(plan_for(weight_kg=None), "allergies")
    weighed.say("weight seven zero kilos", "confirm that")
    weighed.say("weight seven one kilos", "confirm that")
    replaced, stands = values_of(weighed)[:2]
    assert replaced.startswith("Weight 70 kilos: REPLACED")
    assert stands == "Weight 71 kilos"
    weighed.say("take that back")
    assert values_of(weighed)[0] == "Weight 70 kilos"


def test_a_step_done_without_its_value_says_so():
    going = chair(plan_for(), "take-shade").say("shade recorded")
    assert "shade" in section(going, "Values asked for and not told")
    assert values_of(going) == ["None."]  # nothing was read back
    spoken = chair(plan_for(), "take-shade").say("shade a two", "confirm that")
    assert "shade" not in section(spoken, "Values asked for and not told")
    assert "Shade A2" in values_of(spoken)


def test_a_fact_by_a_value_names_the_words():
    going = chair(plan_for(), "take-shade").say("shade a two", "confirm that")
    fact = next(each for each in story_of(going).facts if each.fact == "shade-recorded")
    assert fact.by == "set.shade.A2"


def test_another_tooth_is_in_the_note_as_held_back_with_the_words():
    going = chair(plan_for(), "time-out").say("tooth number four seven")
    (line,) = section(going, "Held back")
    assert "tooth number four seven: Not agreed. Tooth four six is planned." in line


def test_timeline_and_bundle_carry_the_values():
    going = at_log().say("one cartridge lidocaine", "confirm that", "take that back")
    rows = timeline_csv(story_of(going), OPENED)
    assert "value recorded,cartridges,One cartridge lidocaine" in rows
    assert "value taken back,cartridges,One cartridge lidocaine" in rows
    notes = json.loads(fhir_bundle(story_of(going), OPENED, "visit", SEAL))["entry"][0]["resource"]
    assert any("One cartridge lidocaine: TAKEN BACK" in each["text"] for each in notes["note"])


def test_a_stored_session_replays_to_the_same_values():
    going = at_log().say("one cartridge lidocaine", "confirm that", "half a cartridge articaine")
    machine = SessionMachine(going.machine.plan)
    state = machine.first()
    for event in going.events:
        state, _ = machine.step(state, event_from_json(event_to_json(event)))
    assert state == going.state
    assert [value.value for value in state.values] == ["lidocaine-epinephrine-100k:2"]
