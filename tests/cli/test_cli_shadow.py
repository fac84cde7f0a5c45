"""A plan as a lesson, from the command line."""

from pathlib import Path

import pytest
import soundfile

from sidecue.cli.setting import setting


def test_enter_leads_from_step_to_step_and_stop_ends(sidecue, stored):
    plan = setting("composite-46-mo", "example").plan
    ran = sidecue("shadow", "--mute", typed="\nnext\nagain\nhello\nback\nstop\n")
    assert ran.code == 1
    said = [line.strip() for line in ran.out.splitlines()]
    assert said.count(plan.steps[0].say) == 2  # next, and back
    assert said.count(plan.steps[1].say) == 2  # next, and again
    assert plan.steps[2].say not in said
    assert any("next, again, back or stop" in line for line in said)
    assert "stopped after" in ran.out
    assert not stored.exists()


def test_at_a_pace_the_whole_lesson_passes(sidecue):
    plan = setting("amalgam-14-do", "example").plan
    ran = sidecue("shadow", "amalgam-14-do", "--mute", "--pace", "0")
    assert ran.code == 0
    at = 0
    for step in plan.steps:
        at = ran.out.index(step.say, at)
        assert f"why: {step.why[:1].upper()}{step.why[1:]}"[:20] in ran.out
    assert "caution: " in ran.out
    assert "Hand the" in ran.out


def test_a_plan_with_open_questions_can_be_learned(sidecue):
    ran = sidecue("shadow", "--mute", "--pace", "0", "--practice", "unfinished")
    assert ran.code == 0


@pytest.mark.parametrize("name", ["lesson.wav", "lesson.flac"])
def test_the_whole_lesson_goes_into_one_file(sidecue, name):
    own = Path("own/procedures")
    own.mkdir(parents=True)
    (own / "own.yaml").write_text(
        "procedure: own\ntitle: Eyewear only\nfits: {material: [composite]}\nsteps:\n"
        "  - step: own-eyewear\n    say: Fit the patient's eyewear.\n    why: Chips fly.\n"
        "    hand: [patient-eyewear]\n    cue: [eyewear fitted]\n"
        "    establishes: [patient-eyes-covered]\n",
        "utf-8",
    )
    ran = sidecue("shadow", "--procedure", "own", "--flows", "own", "--to", name, "--pace", "2")
    assert ran.code == 0, ran.err
    assert f"wrote {name}: 3 parts" in ran.out
    info = soundfile.info(name)
    assert info.channels == 1
    assert info.duration > 8.0  # two pauses of two seconds, and seven lines


@pytest.mark.parametrize(
    ("choice", "told"),
    [
        (["--pace", "-1"], "is not possible: use 0 or more"),
        (["--pace", "nan"], "is not possible: use 0 or more"),
        (["--to", "lesson.mp3"], ".wav or .flac"),
        (["--to", "/dev/full"], ".wav or .flac"),
        (["--loudspeaker", "no such loudspeaker"], "--mute"),
    ],
)
def test_what_cannot_be_is_told(sidecue, choice, told):
    assert told in sidecue("shadow", *choice).trouble
