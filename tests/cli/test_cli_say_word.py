"""How a word is expected to sound: shown, played, added, used by ears and check, forgotten."""

from dataclasses import replace

import pytest
import soundfile

from sidecue.cli.listening import words_lacking
from sidecue.cli.setting import setting as plan_setting
from sidecue.cli.sounding import sounds_of
from sidecue.conductor.assembly import recogniser_of
from sidecue.procedure.plan import Plan


def test_a_word_of_the_trade_is_shown_in_phones(sidecue):
    # Between the phones of the English lexicon: "occlusal" as spelled out in the trade's word list.
    assert sidecue("say-word", "occlusal", "--mute").out.startswith("occlusal: AH K L UW Z AH L\n")


def test_what_is_added_is_shown_beside_what_is_known_and_forgotten_again(sidecue, home):
    ran = sidecue("say-word", "dentine", "--like", "den tine", "--mute")
    assert ran.code == 0
    assert "added: dentine: D EH N T AY N" in ran.out
    assert str(home / "data" / "sidecue" / "pronunciations.yaml") in ran.out
    shown = sidecue("say-word", "dentine", "--mute").out.splitlines()
    assert shown == ["dentine: D EH N T AY N, added by you", "dentine: D EH N T IY N"]
    assert sidecue("say-word", "--list").out == "dentine: D EH N T AY N\n"
    assert sidecue("say-word", "dentine", "--remove").code == 0
    assert sidecue("say-word", "--list").out == "nothing was added yet\n"


def test_words_of_other_cues_that_sound_near_are_named(sidecue):
    out = sidecue("say-word", "frobnicate", "--phones", "W EH JH", "--mute").out
    assert "sounds the same as 'wedge'" in out


def test_a_way_unlike_the_known_one_is_questioned(sidecue):
    assert "quite unlike" in sidecue("say-word", "dentine", "--like", "wedge", "--mute").out


def test_the_sound_is_written_to_a_file(sidecue, home):
    assert sidecue("say-word", "dentine", "--to", "dentine.wav").code == 0
    samples, rate = soundfile.read(home / "dentine.wav")
    assert 0.3 < len(samples) / rate < 2.0
    assert abs(samples).max() > 0.05


@pytest.mark.parametrize(
    ("arguments", "why"),
    [
        (("frobnicate", "--mute"), "no lexicon knows 'frobnicate'"),
        (("dentine", "--phones", "D XX", "--mute"), "'XX' is no phone"),
        (("dentine", "--phones", "D T", "--mute"), "no vowel"),
        (("dentine", "--like", "frob", "--mute"), "'frob' is not known either"),
        (("dentine", "--like", "den teen", "--mute"), "nothing to add"),
        (("two words", "--mute"), "not one plain word"),
        (("dentine", "--remove"), "nothing was added for 'dentine'"),
        (("dentine", "--like", "den", "--remove"), "use one of"),
        (("dentine", "--list"), "--list stands alone"),
        (("dentine", "--to", "dentine.mp3"), "written as .wav"),
        ((), "name the word"),
    ],
)
def test_what_cannot_be_done_is_told_in_one_line_and_nothing_is_kept(sidecue, home, arguments, why):
    assert why in sidecue("say-word", *arguments).trouble
    assert not (home / "data" / "sidecue" / "pronunciations.yaml").exists()


def test_a_damaged_file_is_told_with_its_line(sidecue, home):
    path = home / "data" / "sidecue" / "pronunciations.yaml"
    path.parent.mkdir(parents=True)
    path.write_text("dentine: [D QQ]\n", "utf-8")
    assert "pronunciations.yaml:1: 'QQ' is no phone" in sidecue("say-word", "--list").trouble


def reworded(plan: Plan, phrase: str) -> Plan:
    first = plan.steps[0]
    done = replace(first.done, phrases=(phrase,))
    return replace(plan, steps=(replace(first, done=done), *plan.steps[1:]))


def test_a_taught_word_is_known_to_the_ears_and_to_the_check(sidecue, home):
    made = reworded(plan_setting("composite-46-mo", "example").plan, "frobnicate now please")
    before = sounds_of([made])
    assert sidecue(
        "say-word", "frobnicate", "--like", "patient is choking", "--mute"
    ).code == 0  # fmt: skip
    recogniser = recogniser_of("auto", None)
    try:
        assert words_lacking(made, recogniser) == ()
    finally:
        recogniser.close()
    traps = sounds_of([made]).traps
    assert not [trap for trap in before.traps if "choking" in str(trap)]
    assert [trap for trap in traps if "frobnicate" in str(trap) and "choking" in str(trap)]
