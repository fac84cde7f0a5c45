import csv
import io
import json
from dataclasses import replace

import pytest
from fhir.resources.R4B.bundle import Bundle
from hypothesis import given
from hypothesis import strategies as st
from small_visit import OPENED, small_plan
from whole_visits import FAINTED, GOOD, NOT_NUMBED, SALIVA, told

from sidecue.procedure.plan import Tier, TimerKind, TimerSpec
from sidecue.record.advice import advice_of, advice_sheet
from sidecue.record.fhir import fhir_bundle
from sidecue.record.markdown import plain, table
from sidecue.record.note import chart_note
from sidecue.record.port import JournalError, Seal
from sidecue.record.summary import summarise
from sidecue.record.telling import tell
from sidecue.record.timeline_csv import HEADS, timeline_csv
from sidecue.record.wall_clock import WallClock
from sidecue.session.events import CueGiven, Source, TimePassed

SEAL = Seal(19, "ab" * 32)
TRUE = "Known to be true, and until when"
VISITS = {"good": GOOD, "not-numbed": NOT_NUMBED, "saliva": SALIVA, "fainted": FAINTED, "empty": ()}


@pytest.fixture(params=VISITS)
def visit(request):
    return told(VISITS[request.param])


def note(events):
    return chart_note(told(events), OPENED, "2026-03-02-abc123", SEAL)


def section(text, title):
    return text.split(f"## {title}\n\n")[1].split("\n\n## ")[0]


# -- chart note ----------------------------------------------------------------------------------


def test_the_note_names_the_case_the_tooth_and_when():
    text = note(GOOD)
    assert "**46 O · composite · rolls** · A small filling" in text
    assert "Tooth: four six, lower right first molar" in text
    assert "Started: 2026-03-02T09:30:00+01:00" in text
    assert "Finished: 2026-03-02T09:32:00+01:00" in text


def test_the_note_says_who_decides():
    assert "Reminder and record aid; the licensed clinician decides" in note(GOOD)
    assert "Reminder and record aid; the licensed clinician decides" in note(FAINTED)


def test_steps_carry_their_times():
    steps = section(note(GOOD), "Steps")
    assert "| 2 | Etch the enamel. | 09:30:20 | 09:30:34 |  |" in steps
    assert "| 5 | Check the bite. |  | 09:32:00 |  |" in steps


def test_timers_carry_what_was_asked_what_ran_and_the_source():
    timers = section(note(GOOD), "Timers")
    by = "etchant.dentine of Invented Etch 37 IFU"
    assert f"| etch | 09:30:20 | at most 15 s | 14.0 s | kept | {by} |" in timers
    assert "| rinse | 09:30:35 | at least 15 s | 16.5 s | kept |" in timers


def test_a_timer_that_was_overrun_stands_out():
    late = (*GOOD[:2], CueGiven(20.0, "etch-on"), CueGiven(60.0, "etch-done"))
    assert "| 40.0 s | OVER TIME |" in section(note(late), "Timers")


def test_a_count_down_is_told_and_never_counts_as_a_limit_kept_or_broken():
    plan = small_plan()
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, most=5.0)
    steps = (replace(plan.steps[0], timers=(onset,)), *plan.steps[1:])
    story = tell(replace(plan, steps=steps), GOOD)
    text = chart_note(story, OPENED, "s", SEAL)
    assert "| onset | 09:30:10 | tell at 5 s | 5.0 s | told the time |" in text
    assert (summarise(story).timers_kept, summarise(story).timers_not_kept) == (2, 0)


def with_onset(most):
    """The small visit, with a count-down from the end of numbing to the end of etching."""
    plan = small_plan()
    onset = TimerSpec("onset", TimerKind.COUNT_DOWN, most=most)
    numb, etch, *rest = plan.steps
    stopping = replace(etch, done_stops=(*etch.done_stops, "onset"))
    return replace(plan, steps=(replace(numb, timers=(onset,)), stopping, *rest))


def test_a_count_down_stopped_early_told_nobody_anything():
    text = chart_note(tell(with_onset(120.0), GOOD), OPENED, "s", SEAL)
    assert "| onset | 09:30:10 | tell at 120 s | 24.0 s | stopped before its time |" in section(
        text, "Timers"
    )


def test_a_count_down_that_ran_out_in_an_emergency_told_nobody_either():
    ended = (*GOOD[:2], CueGiven(12.0, "faint"), TimePassed(15.0), TimePassed(20.0))
    text = chart_note(tell(with_onset(5.0), ended), OPENED, "s", SEAL)
    assert "| 5.0 s | ran out; not told in the emergency |" in section(text, "Timers")


def test_a_timer_left_running_past_its_most_stands_out_too():
    left = (*GOOD[:2], CueGiven(20.0, "etch-on"), TimePassed(32.0), TimePassed(35.0))
    story = tell(small_plan(), left)
    assert "|  | OVER TIME, still running |" in section(
        chart_note(story, OPENED, "s", SEAL), "Timers"
    )
    assert summarise(story).timers_not_kept == 1
    notes = "".join(note["text"] for note in procedures(story)[0]["note"])
    assert "Timer etch, asked at most 15 s: still running, overdue" in notes
    in_time = tell(small_plan(), left[:-1])
    assert "| still running |" in chart_note(in_time, OPENED, "s", SEAL)
    assert summarise(in_time).timers_not_kept == 0


def test_what_was_held_back_carries_its_reason_and_its_rule():
    held = section(note(GOOD), "Held back")
    assert "09:30:12 composite is placed: Rinse before you fill. \\[rinse-before-filling\\]" in held
    assert "09:30:40 rinsing is done: " in held


def test_what_was_left_out_carries_its_reason():
    assert "09:30:07 Numb the tooth. Reason: it is not needed" in section(
        note(NOT_NUMBED), "Left out"
    )
    assert "| 1 | Numb the tooth. |  |  | LEFT OUT |" in note(NOT_NUMBED)
    assert section(note(GOOD), "Left out") == "Nothing was left out."


def test_facts_that_stopped_being_true_stand_out():
    facts = section(note(SALIVA), TRUE)
    assert "09:30:57 cavity is etched: NO LONGER TRUE (saliva got in)" in facts
    assert "09:31:10 cavity is etched\n" in facts
    assert "done 2 times" in section(note(SALIVA), "Steps")


def test_what_a_step_ends_in_its_own_course_is_told_calmly():
    plan = small_plan()
    rinse = replace(plan.steps[2], voids=("etched",))
    plan = replace(plan, steps=(*plan.steps[:2], rinse, *plan.steps[3:]))
    facts = section(chart_note(tell(plan, GOOD), OPENED, "s", SEAL), TRUE)
    assert "09:30:20 cavity is etched, until 09:30:51 (rinsing is done)\n" in facts
    assert "NO LONGER TRUE" not in facts
    rows = timeline_csv(tell(plan, GOOD), OPENED)
    assert "fact ended,etched,rinse-done" in rows
    assert "fact voided,etched" in timeline_csv(told(SALIVA), OPENED)


def test_what_a_guarded_cue_ends_is_told_by_that_cue_and_not_by_the_yes_to_it():
    plan = small_plan()
    place = replace(plan.steps[3], voids=("etched",),
                    done=replace(plan.steps[3].done, tier=Tier.GUARDED))  # fmt: skip
    plan = replace(plan, steps=(*plan.steps[:3], place, *plan.steps[4:]))
    confirmed = (*GOOD[:17], CueGiven(102.0, "confirm"))
    facts = section(chart_note(tell(plan, confirmed), OPENED, "s", SEAL), TRUE)
    assert "cavity is etched, until 09:31:42 (composite is placed)" in facts


def test_what_was_taken_back_is_told_so():
    facts = section(note((*GOOD[:2], CueGiven(12.0, "etch-on"), CueGiven(14.0, "etch-done"),
                          CueGiven(16.0, "water-on"), CueGiven(32.0, "rinse-done"),
                          CueGiven(34.0, "undo"))), TRUE)  # fmt: skip
    assert "09:30:34 acid is rinsed off: TAKEN BACK (undo please)" in facts


def test_an_unfinished_visit_says_so_and_tells_the_emergency():
    text = note(FAINTED)
    assert "NOT FINISHED; last entry: 2026-03-02T09:31:04+01:00" in text
    broken = section(text, "Interruptions")
    assert "EMERGENCY faint 09:30:22 to 09:31:04" in broken
    assert "pause 09:31:04 to not ended" in broken


def test_interruptions_stand_in_order_of_time():
    lines = section(note(GOOD), "Interruptions").split("\n")
    assert lines == [
        "- microphone lost 09:30:41",
        "- microphone back 09:30:44",
        "- pause 09:31:00 to 09:31:30",
        "- program started again 09:31:50",
    ]


def test_materials_cautions_and_the_seal_are_in_the_note():
    text = note(GOOD)
    assert "| etchant | Invented Etch 37 | not entered |  | dentine 15 s |" in section(
        text, "Materials planned"
    )
    assert "09:30:10 Shield the eyes from acid." in section(text, "Cautions given")
    assert f"Session 2026-03-02-abc123, 19 events, SHA-256 `{SEAL.hash}`" in text
    assert "too far from every phrase: 2 times" in section(text, "Not understood")
    assert "too far from every phrase: once" in section(note(GOOD[:5]), "Not understood")


def test_every_visit_gives_a_whole_note(visit):
    text = chart_note(visit, OPENED, "2026-03-02-abc123", SEAL)
    assert text.count("\n## ") == 14
    rows = [line for line in section(text, "Steps").split("\n") if line.startswith("|")]
    assert {row.count("|") for row in rows} == {6}


@given(st.text())
def test_no_text_breaks_out_of_its_cell(text):
    (_, _, row) = table(("a", "b"), [(text, "x")])
    assert "\n" not in row
    assert row.replace("\\\\", "").replace("\\|", "").count("|") == 3
    assert plain(text).count("<") == plain(text).count("\\<")


@pytest.mark.parametrize("opened", ["yesterday", "2026-03-02T09:30:00", ""])
def test_a_start_without_offset_is_refused(opened):
    with pytest.raises(JournalError, match="ISO 8601"):
        chart_note(told(GOOD), opened, "s", SEAL)


def test_a_visit_through_the_change_to_summer_time_does_not_jump():
    # Central European summer time began on 29 March 2026 at 02:00 (last Sunday of March,
    # Directive 2000/84/EC): the offset of the start is kept, and says so.
    clock = WallClock.of("2026-03-29T01:59:50+01:00")
    assert clock.iso(20.0) == "2026-03-29T02:00:10+01:00"


# -- advice --------------------------------------------------------------------------------------


def test_advice_follows_what_was_done():
    assert advice_of(told(GOOD)) == tuple(advice.text for advice in small_plan().advice)
    assert advice_of(told(NOT_NUMBED)) == ("You may eat at once.",)


def test_there_is_no_advice_before_the_visit_is_over():
    assert advice_of(told(FAINTED)) == ()
    assert "not finished" in advice_sheet(told(FAINTED), "2 March 2026")


def test_the_sheet_prints_each_sentence_large():
    sheet = advice_sheet(told(NOT_NUMBED), "2 March 2026")
    assert "## You may eat at once.\n" in sheet
    assert "numb" not in sheet
    assert "2 March 2026 · Practice of the Tests" in sheet


# -- timeline ------------------------------------------------------------------------------------


def test_the_timeline_is_in_order_and_whole(visit):
    rows = list(csv.reader(io.StringIO(timeline_csv(visit, OPENED))))
    assert tuple(rows[0]) == HEADS
    seconds = [float(row[1]) for row in rows[1:]]
    assert seconds == sorted(seconds)
    assert {len(row) for row in rows} == {5}
    kinds = [row[2] for row in rows]
    assert kinds.count("cue") + kinds.count("refused") == len(visit.cues)
    assert kinds.count("not understood") == len(visit.unheard)


def test_the_timeline_reads_as_the_visit_went():
    rows = list(csv.reader(io.StringIO(timeline_csv(told(GOOD), OPENED))))
    told_rows = {tuple(row[1:4]): row for row in rows}
    assert told_rows["35.000", "timer started", "rinse"][4] == "at least 15 s"
    assert told_rows["51.500", "timer ended", "rinse"][4] == "kept after 16.5 s"
    assert told_rows["34.000", "cue", "etch-done"][4] == "etch-done (pedal)"
    assert told_rows["51.500", "fact true", "rinsed"][0] == "2026-03-02T09:30:51+01:00"


def test_a_typed_formula_stays_text_in_a_spreadsheet():
    typed = (*GOOD[:1], CueGiven(3.0, "numb-done", Source.TEXT, '=HYPERLINK("x")'))
    rows = csv.reader(io.StringIO(timeline_csv(told(typed), OPENED)))
    assert not [cell for row in rows for cell in row if cell.startswith("=")]


# -- FHIR ----------------------------------------------------------------------------------------
# HL7 FHIR R4 (v4.0.1) and R4B agree on Bundle, Procedure and Provenance (from memory); the
# library carries R4B.


def bundle(story):
    return json.loads(fhir_bundle(story, OPENED, "2026-03-02-abc123", SEAL))


def procedures(story):
    return [
        entry["resource"]
        for entry in bundle(story)["entry"]
        if entry["resource"]["resourceType"] == "Procedure"
    ]


def test_the_bundle_is_valid(visit):
    text = fhir_bundle(visit, OPENED, "2026-03-02-abc123", SEAL)
    Bundle.model_validate_json(text)


def test_the_visit_and_its_steps_carry_the_r4_status():
    # HL7 FHIR R4, value set event-status: completed, not-done, in-progress ...
    visit, *steps = procedures(told(NOT_NUMBED))
    assert visit["status"] == "completed"
    assert [step["status"] for step in steps] == ["not-done", *["completed"] * 4]
    assert steps[0]["statusReason"] == {"text": "it is not needed"}
    visit, *steps = procedures(told(FAINTED))
    assert visit["status"] == "in-progress"
    assert "end" not in visit["performedPeriod"]
    assert [step["status"] for step in steps] == ["completed", "in-progress"]


def test_a_step_lasts_from_its_begin_to_its_end():
    etch = procedures(told(GOOD))[2]
    assert etch["code"] == {"text": "Etch the enamel."}
    assert etch["performedPeriod"] == {
        "start": "2026-03-02T09:30:20+01:00",
        "end": "2026-03-02T09:30:34+01:00",
    }


def test_the_bundle_names_no_patient_and_seals_the_journal():
    written = bundle(told(GOOD))
    provenance = written["entry"][-1]["resource"]
    assert SEAL.hash in provenance["entity"][0]["what"]["display"]
    assert len(provenance["target"]) == len(written["entry"]) - 1
    assert "Patient" not in {entry["resource"]["resourceType"] for entry in written["entry"]}


def test_the_same_session_gives_the_same_identifiers():
    assert bundle(told(GOOD)) == bundle(told(GOOD))
    urls = [entry["fullUrl"] for entry in bundle(told(GOOD))["entry"]]
    assert len(set(urls)) == len(urls)
    references = {procedure["partOf"][0]["reference"] for procedure in procedures(told(GOOD))[1:]}
    assert references == {urls[0]}
