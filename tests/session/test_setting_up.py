"""A case told by voice: read back, confirmed by another word, corrected by "no"."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.cli.case_setup import CaseSetup
from sidecue.clinical.teeth import ALL_TEETH
from sidecue.clinical.tooth_reading import parse_tooth
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.port import Vocabulary
from sidecue.hearing.text import hear_text
from sidecue.procedure.case_talk import NEEDED, case_talk
from sidecue.procedure.words import MOST_WORDS
from sidecue.session.effects import Say
from sidecue.session.setting_up import SetUpMachine

SETUP = CaseSetup("example", None, lambda _: True, lambda: None)
TALK = case_talk(SETUP.practice)
LIBRARY = SETUP.library
MACHINE = SetUpMachine(TALK, LIBRARY.cues, dict(LIBRARY.prompts), SETUP.draft)


class Told:
    """One case being told, a phrase a second, each judged by the text engine."""

    def __init__(self, **entry):
        self.state, effects = MACHINE.first(entry, 0.0)
        self.now = 0.0
        self.prompts = [effect.text for effect in effects if isinstance(effect, Say)]

    def say(self, *phrases, after=1.0):
        for phrase in phrases:
            self.now += after
            self.state, _ = MACHINE.passed(self.state, self.now)
            cues = MACHINE.cues(self.state)
            bare = MACHINE.answering(self.state, self.now)
            heard = hear_text(phrase, self.now, Vocabulary(cues, LIBRARY.address, bare=bare))
            if heard.cue is None:
                self.prompts = []
                continue
            self.state, effects = MACHINE.said(self.state, heard.cue, self.now)
            self.prompts = [effect.text for effect in effects if isinstance(effect, Say)]
        return self


SMALLEST = (
    "tooth number four six", "confirm that", "surfaces mesial occlusal", "confirm that",
    "fill with composite", "confirm that", "isolate with rubber dam", "confirm that",
    "depth four millimetres", "confirm that",
)  # fmt: skip
LEFT_OPEN = ("leave it open", "leave it open", "leave it open", "no more warnings",
             "no more missing teeth", "leave it open")  # fmt: skip


def test_a_whole_case_is_told_and_started():
    told = Told().say(*SMALLEST, *LEFT_OPEN)
    assert told.state.entry == {
        "tooth": "46", "surfaces": "MO", "material": "composite", "isolation": "dam",
        "depth-mm": 4.0,
    }  # fmt: skip
    told.say("start the visit")
    assert told.prompts == [
        "Tooth four six.", "Patient's lower right first molar.", "Surfaces mesial occlusal.",
        "Composite filling.", "Rubber dam.", "Say confirm that.",
    ]  # fmt: skip
    assert told.state.begun is None
    told.say("confirm that")
    assert told.state.begun is not None
    assert told.state.begun.case_line == "46 MO · composite · dam"


def test_nothing_counts_until_another_word_confirms_it():
    told = Told().say("tooth number four six")
    assert told.prompts[0] == "Tooth four six."
    assert told.state.entry == {}
    told.say("tooth number four six")
    assert told.state.entry == {}
    told.say(next(cue for cue in LIBRARY.cues if cue.id == "deny").phrases[0])
    assert (told.state.entry, told.state.question) == ({}, None)


def test_silence_means_no():
    told = Told().say("tooth number four six")
    told.say("confirm that", after=20)
    assert told.state.entry == {}


@pytest.mark.parametrize("phrase", ["no tooth number four seven", "no four seven",
                                    "tooth number four seven"])  # fmt: skip
def test_no_with_another_value_corrects(phrase):
    told = Told().say("tooth number four six", phrase)
    assert told.prompts[0] == "Tooth four seven."
    assert told.say("confirm that").state.entry == {"tooth": "47"}


def test_a_cavity_that_could_be_at_the_gum_is_asked_about():
    told = Told(tooth="43", surfaces="F", material="composite").say("use cotton rolls")
    told.say("confirm that")
    assert told.prompts[-1] == "Say whether it is at the gum."
    told.say("cavity at gum margin", "confirm that")
    assert told.state.entry["cervical"] is True


def test_another_tooth_drops_the_surfaces_it_does_not_have():
    told = Told().say(*SMALLEST[:4], "okay tray change the tooth", "tooth number two one",
                      "confirm that")  # fmt: skip
    assert told.state.entry == {"tooth": "21"}
    assert told.prompts[-1] == "Tell the surfaces."


def test_warnings_add_up_and_the_last_can_be_struck():
    told = Told().say(*SMALLEST, *LEFT_OPEN[:3], "allergic to latex", "confirm that",
                      "heart disease known", "confirm that")  # fmt: skip
    assert told.state.entry["flags"] == ["latex", "heart"]
    assert told.say("strike the last entry").prompts == ["Struck: heart disease."]
    assert told.state.entry["flags"] == ["latex"]


def test_under_a_dam_missing_teeth_and_the_clamp_are_asked_for_and_move_the_clamp():
    """The clamp goes one tooth further back, unless none stands there: dam teaching (memory)."""
    told = Told().say(*SMALLEST, *LEFT_OPEN[:4])
    assert told.prompts == ["Tell missing teeth, then no more missing teeth."]
    told.say("missing tooth four seven")
    assert told.prompts[0] == "Missing tooth four seven."
    told.say("confirm that", "missing lower right second premolar", "confirm that")
    told.say("no more missing teeth")
    assert told.prompts == ["Tell the clamp, or leave it open."]
    told.say("clamp number one four a", "confirm that", "start the visit", "confirm that")
    assert told.state.entry["missing"] == ["47", "45"]
    assert told.state.entry["clamp"] == "14A"
    decided = {each.name: each.text for each in told.state.begun.preparations}
    assert decided["clamp"].startswith("chosen clamp (14A) on 46")
    assert decided["teeth through the dam"].startswith("46 44 43")


def test_the_tooth_that_is_treated_cannot_be_told_missing():
    told = Told().say(*SMALLEST, *LEFT_OPEN[:4], "missing tooth four six")
    assert told.state.question is None


def test_on_cotton_rolls_nobody_is_asked_about_teeth_and_clamp_for_the_dam():
    told = Told().say(*SMALLEST[:6], "use cotton rolls", "confirm that", *SMALLEST[8:])
    assert told.say(*LEFT_OPEN[:4]).prompts == ["Say start the visit when ready."]


def test_the_distance_of_the_light_can_be_told():
    told = Told().say(*SMALLEST, "change the light distance")
    assert told.prompts == ["Tell the light distance, or leave it open."]
    told.say("light distance two millimetres")
    assert told.prompts == ["Light distance 2 millimetres. Say confirm that."]
    assert told.say("confirm that").state.entry["tip-distance-mm"] == 2.0


def test_every_warning_of_a_case_file_can_be_told():
    """Prilocaine is avoided with a risk of methaemoglobinaemia: prilocaine label."""
    said = {choice.value for choice in TALK.choices("flags", {})}
    assert said == set(SETUP.blank({})["flags"])


def test_the_address_is_needed_once_nobody_waits_for_an_answer():
    told = Told().say("tooth number four six", after=60)
    assert told.state.question is None
    told.say("okay tray tooth number four six")
    assert told.state.question is not None


def test_a_refused_case_never_starts():
    """Resin in a patient allergic to it: the compatibility table refuses it."""
    told = Told().say(*SMALLEST, *LEFT_OPEN[:3], "allergic to resin", "confirm that")
    told.say(*LEFT_OPEN[3:])
    assert told.prompts == ["This case is refused. Read the screen."]
    told.say("start the visit")
    assert (told.state.question, told.state.begun) == (None, None)


def test_no_visit_starts_before_the_warnings_were_asked_for():
    """An allergy that nobody was asked about is none that was ruled out."""
    told = Told().say(*SMALLEST, "start the visit")
    assert told.state.question is None
    assert told.prompts == ["Not yet.", "Tell each warning, then no more warnings."]
    told.say("no more warnings", "start the visit", "confirm that")
    assert told.state.begun is not None


def test_an_unfinished_case_does_not_start():
    told = Told().say("start the visit", "confirm that")
    assert told.state.begun is None
    assert told.prompts == []


def test_a_screen_that_says_nothing_new_leaves_the_question_open():
    told = Told().say("tooth number four six")
    told.state = MACHINE.entered(told.state, {"flags": [], "surfaces": ""}, 2.0)
    assert told.state.question is not None


def test_what_is_entered_on_a_screen_is_not_spoken_about():
    told = Told()
    told.state = MACHINE.entered(told.state, {"tooth": "46"}, 1.0)
    assert told.state.asked == "surfaces"
    told.say("surfaces mesial occlusal", "confirm that")
    assert told.state.entry["surfaces"] == "MO"


def test_every_value_is_one_that_a_case_file_may_have():
    for item in TALK.items:
        for choice in TALK.choices(item.entry, {"tooth": "46"}):
            entry = {item.entry: [choice.value] if item.many else choice.value}
            assert "missing" in SETUP.take({"do": "plan", "entry": entry}), entry


def test_every_word_is_in_the_recognisers_lexicon():
    lexicon = Lexicon(LIBRARY.pronunciations)
    cues = [choice.cue for item in TALK.items for each in ("46", "21", "85", "61")
            for choice in TALK.choices(item.entry, {"tooth": each})]  # fmt: skip
    cues += [*TALK.cues, *(item.change for item in TALK.items)]
    words = {word for cue in cues for phrase in cue.phrases for word in phrase.split()}
    assert [word for word in sorted(words) if not lexicon.spell(word)] == []


@pytest.mark.parametrize("notation", ["iso", "universal"])
def test_every_tooth_can_be_told_in_the_practices_notation(notation):
    talk = case_talk(replace(SETUP.practice, notation=notation))
    for choice in talk.choices("tooth", {}):
        number, name = choice.cue.phrases
        read = parse_tooth(number.removeprefix("tooth number "), notation)
        assert read == parse_tooth(name) == parse_tooth(str(choice.value), notation)
    assert len(talk.choices("tooth", {})) == len(ALL_TEETH)


@given(st.lists(st.integers(0, 400), max_size=30))
def test_no_sequence_starts_what_is_not_confirmed_or_says_a_long_prompt(picks):
    state, effects = MACHINE.first({}, 0.0)
    now = 0.0
    for pick in picks:
        now += 1.0
        cues = MACHINE.cues(state)
        cue = cues[pick % len(cues)]
        question = state.question
        before = dict(state.entry)
        state, effects = MACHINE.said(state, cue.id, now)
        prompts = [effect.text for effect in effects if isinstance(effect, Say)]
        assert all(len(each.split()) <= MOST_WORDS for each in prompts), prompts
        if cue.id not in ("confirm", "strike"):
            assert dict(state.entry) == before
        if state.begun is not None:
            assert cue.id == "confirm"
            assert question is not None
            assert all(state.entry.get(name) for name in NEEDED)
            assert state.begun.startable
            return
