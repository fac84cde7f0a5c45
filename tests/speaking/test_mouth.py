"""Which prompt is heard, which is cut short, and which must never be lost."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sidecue.session.effects import Chime, ChimeKind, Refuse, Say, Silence, Urgency
from sidecue.speaking.mouth import RECENTLY, Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.port import Sound, VoiceError

STEP = Say("Etch enamel first.")
NEXT_STEP = Say("Rinse as long as you etched.")
CAUTION = Say("Keep etchant off soft tissue.", Urgency.CAUTION)
OTHER_CAUTION = Say("Shield before the light.", Urgency.CAUTION)
ALARM = Say("Etch time is over. Rinse now.", Urgency.ALARM)
OTHER_ALARM = Say("Work time is over.", Urgency.ALARM)
HEARD, DUE, REFUSED = (Chime(kind) for kind in (ChimeKind.HEARD, ChimeKind.DUE, ChimeKind.REFUSED))


class OneSecondVoice:
    """Every prompt lasts one second; a prompt with "unspeakable" in it cannot be said."""

    closed = False

    def render(self, text):
        if "unspeakable" in text:
            raise VoiceError("cannot say it; write it as words")
        return Sound(np.ones(1000, np.int16), 1000, text)

    def close(self):
        self.closed = True


class Witness(MuteLoudspeaker):
    """Keeps the timing, and writes down what was begun and what was heard to its end."""

    def __init__(self):
        super().__init__()
        self.planned = []  # [label, starts, ends]

    def play(self, sound, now):
        ends = super().play(sound, now)
        label = sound.text or f"chime {len(sound.samples)}"
        self.planned.append([label, ends - sound.lasts, ends])
        return ends

    def silence(self, now):
        super().silence(now)
        self._cut(self.planned, now)

    def drop_last(self, count, now):
        super().drop_last(count, now)
        alive = [entry for entry in self.planned if entry[2] > now]
        self._cut(alive[len(alive) - count :] if count else [], now)

    def _cut(self, entries, now):
        for entry in entries:
            entry[2] = min(entry[2], max(now, entry[1]))

    def whole(self):
        """Texts heard to their end, in order."""
        return [text for text, begun, ended in self.planned if ended - begun > 0.99]

    def at(self, now):
        """What sounds at `now`."""
        return [text for text, begun, ended in self.planned if begun <= now < ended]


@pytest.fixture
def witness():
    return Witness()


@pytest.fixture
def faults():
    return []


@pytest.fixture
def mouth(witness, faults):
    return Mouth(OneSecondVoice(), witness, faults.append)


def texts(*says):
    return [say.text for say in says]


def test_the_prompts_of_one_step_are_heard_in_order(mouth, witness):
    assert mouth.carry_out([STEP, CAUTION], 0.0) == pytest.approx(2.0)
    assert witness.whole() == texts(STEP, CAUTION)


def test_a_new_routine_prompt_replaces_the_old_one(mouth, witness):
    mouth.carry_out([STEP], 0.0)
    assert mouth.carry_out([NEXT_STEP], 0.4) == pytest.approx(1.4)
    assert witness.whole() == texts(NEXT_STEP)


def test_a_caution_cuts_a_routine_prompt_short(mouth, witness):
    mouth.carry_out([STEP], 0.0)
    assert mouth.carry_out([CAUTION], 0.4) == pytest.approx(1.4)
    assert witness.whole() == texts(CAUTION)


def test_a_routine_prompt_waits_for_a_caution(mouth, witness):
    mouth.carry_out([CAUTION], 0.0)
    assert mouth.carry_out([STEP], 0.4) == pytest.approx(2.0)
    assert witness.whole() == texts(CAUTION, STEP)


def test_a_routine_prompt_waiting_behind_a_caution_is_replaced_by_a_newer_one(mouth, witness):
    mouth.carry_out([CAUTION], 0.0)
    mouth.carry_out([STEP], 0.2)
    assert mouth.carry_out([NEXT_STEP], 0.4) == pytest.approx(2.0)
    assert witness.whole() == texts(CAUTION, NEXT_STEP)


def test_an_alarm_cuts_a_caution_which_is_then_said_again_whole(mouth, witness):
    mouth.carry_out([CAUTION], 0.0)
    assert mouth.carry_out([ALARM], 0.4) == pytest.approx(2.4)
    assert witness.whole() == texts(ALARM, CAUTION)


def test_an_alarm_moves_ahead_of_a_waiting_caution(mouth, witness):
    mouth.carry_out([OTHER_ALARM, CAUTION], 0.0)
    mouth.carry_out([ALARM], 0.4)
    assert witness.whole() == texts(OTHER_ALARM, ALARM, CAUTION)


def test_nothing_cuts_an_alarm(mouth, witness):
    mouth.carry_out([ALARM], 0.0)
    mouth.carry_out([CAUTION], 0.1)
    mouth.carry_out([OTHER_ALARM], 0.2)
    mouth.carry_out([STEP], 0.3)
    assert witness.whole() == texts(ALARM, OTHER_ALARM, CAUTION, STEP)


def test_equal_cautions_follow_one_another(mouth, witness):
    mouth.carry_out([CAUTION], 0.0)
    mouth.carry_out([OTHER_CAUTION], 0.4)
    assert witness.whole() == texts(CAUTION, OTHER_CAUTION)


def test_stop_silences_at_once_and_drops_what_waits(mouth, witness):
    mouth.carry_out([STEP, CAUTION], 0.0)
    assert mouth.carry_out([Silence()], 0.4) == pytest.approx(0.4)
    assert witness.whole() == []


def test_stop_ends_the_alarm_being_heard(mouth, witness):
    mouth.carry_out([ALARM], 0.0)
    assert mouth.carry_out([Silence()], 0.4) == pytest.approx(0.4)


def test_an_alarm_that_had_not_begun_is_said_after_a_stop(mouth, witness):
    mouth.carry_out([OTHER_ALARM, ALARM], 0.0)
    mouth.carry_out([Silence(), Say("Paused.")], 0.4)
    assert witness.whole() == [ALARM.text, "Paused."]


def test_a_chime_goes_before_the_words_it_announces(mouth, witness):
    mouth.carry_out([STEP], 0.0)
    mouth.carry_out([HEARD, NEXT_STEP], 0.4)
    assert witness.at(0.42) == ["chime 1102"]
    assert witness.whole()[-1] == NEXT_STEP.text


def test_a_chime_alone_cuts_nothing_and_comes_next(mouth, witness):
    mouth.carry_out([STEP, CAUTION], 0.0)
    mouth.carry_out([REFUSED], 0.4)
    assert witness.whole() == texts(STEP, CAUTION)
    assert witness.at(1.05)[0].startswith("chime")


def test_a_chime_alone_is_heard_at_once_when_nothing_is_said(mouth, witness):
    assert mouth.carry_out([HEARD], 5.0) == pytest.approx(5.05, abs=0.01)
    assert len(witness.at(5.0)) == 1


def test_the_due_chime_of_an_alarm_is_as_urgent_as_the_alarm(mouth, witness):
    mouth.carry_out([CAUTION], 0.0)
    mouth.carry_out([DUE, ALARM], 0.4)
    assert witness.at(0.41)[0].startswith("chime")
    assert witness.whole()[-2:] == texts(ALARM, CAUTION)


def test_a_refusal_is_for_the_record_and_only_its_words_are_heard(mouth, witness):
    mouth.carry_out([Refuse("bond", "needs rinsed"), REFUSED, Say("Rinse before bonding.")], 0.0)
    assert [entry[0] for entry in witness.planned][1:] == ["Rinse before bonding."]


def test_no_effects_change_nothing(mouth, witness):
    mouth.carry_out([STEP], 0.0)
    assert mouth.carry_out([], 0.5) == pytest.approx(1.0)
    assert witness.whole() == texts(STEP)


def test_a_finished_prompt_is_not_said_again(mouth, witness):
    mouth.carry_out([CAUTION], 0.0)
    mouth.carry_out([ALARM], 3.0)
    assert witness.whole() == texts(CAUTION, ALARM)


def test_an_unspeakable_step_is_told_and_the_rest_is_said(mouth, witness, faults):
    mouth.carry_out([Say("unspeakable"), CAUTION], 0.0)
    assert faults == ["cannot say it; write it as words"]
    assert witness.whole() == texts(CAUTION)


def test_an_unspeakable_alarm_still_sounds_as_a_chime(mouth, witness, faults):
    mouth.carry_out([Say("unspeakable", Urgency.ALARM)], 0.0)
    assert len(faults) == 1
    assert witness.at(0.05)[0].startswith("chime")


def test_a_loudspeaker_that_cannot_be_written_does_not_stop_the_session(faults):
    class Full(MuteLoudspeaker):
        def play(self, sound, now):
            raise VoiceError("said.wav: no space; free space")

    mouth = Mouth(OneSecondVoice(), Full(), faults.append)
    assert mouth.carry_out([STEP], 1.0) == 1.0
    assert faults == ["said.wav: no space; free space"]


def test_closing_closes_both():
    voice = OneSecondVoice()
    mouth = Mouth(voice, Witness())
    mouth.close()
    assert voice.closed


SAYS = st.builds(
    Say,
    st.sampled_from(["Rinse.", "Dry.", "Shield.", "Wedge.", "Light."]),
    st.sampled_from(list(Urgency)),
)
BATCHES = st.lists(
    st.tuples(
        st.floats(0.0, 1.6),
        st.lists(st.one_of(SAYS, st.builds(Chime, st.sampled_from(list(ChimeKind)))), max_size=3),
    ),
    max_size=10,
)


@given(BATCHES)
@settings(max_examples=300, deadline=None)
def test_every_alarm_is_heard_whole_and_every_caution_is_heard_in_the_end(batches):
    witness = Witness()
    mouth, now = Mouth(OneSecondVoice(), witness), 0.0
    wanted = {Urgency.ALARM: [], Urgency.CAUTION: []}
    for number, (later, effects) in enumerate(batches):
        now += later
        tagged = [
            Say(f"{number} {place} {effect.text}", effect.urgency)
            if isinstance(effect, Say)
            else effect
            for place, effect in enumerate(effects)
        ]
        for say in tagged:
            if isinstance(say, Say) and say.urgency in wanted:
                wanted[say.urgency].append(say.text)
        mouth.carry_out(tagged, now)
    whole = [text for text in witness.whole() if not text.startswith("chime")]
    alarms = [text for text in whole if text in wanted[Urgency.ALARM]]
    assert alarms == wanted[Urgency.ALARM]
    assert set(wanted[Urgency.CAUTION]) <= set(whole)


@given(BATCHES)
@settings(max_examples=300, deadline=None)
def test_no_routine_prompt_is_heard_whole_after_a_newer_one_began(batches):
    witness = Witness()
    mouth, now = Mouth(OneSecondVoice(), witness), 0.0
    routine = []
    for number, (later, effects) in enumerate(batches):
        now += later
        tagged = [
            Say(f"{number} {place} {effect.text}", effect.urgency)
            if isinstance(effect, Say)
            else effect
            for place, effect in enumerate(effects)
        ]
        routine += [
            say.text for say in tagged if isinstance(say, Say) and say.urgency is Urgency.ROUTINE
        ]
        mouth.carry_out(tagged, now)
    said = [int(text.split()[0]) for text in witness.whole() if text in routine]
    assert said == sorted(said)


def test_what_is_said_is_known_until_a_little_after_it_is_over(mouth):
    mouth.carry_out([Chime(ChimeKind.HEARD), Say("Rinse now."), Say("Dry it.")], 10.0)
    over = mouth.busy_until(10.0)
    assert mouth.saying(10.0) == ("Rinse now.", "Dry it.")
    assert mouth.saying(over + RECENTLY - 0.1) == ("Dry it.",)
    assert mouth.saying(over + RECENTLY) == ()
