"""Our own voice is no cue, and does not deafen us to "stop". The whole matrix is a benchmark."""

from contextlib import closing

import numpy as np
import pytest
from benchmarks.edges.own_voice import STOPS, Trial, run

from sidecue.cli.setting import DEFAULT_PRACTICE, setting
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.conducting import ROOM_TAIL, Conductor
from sidecue.conductor.preparing import foreseen
from sidecue.procedure.plan import Tier
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.machine import SessionMachine
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.port import Sound
from sidecue.speaking.voice import PyttsVoice

#: Prompts that hold words of the cues that count while we speak.
TELLING = ("Paused. Timers go on.", "Stop. Take everything out of the mouth.", "Stop. ")


#: Prompts in which the ears, told nothing, found a word of the stop tier at every gain and delay.
MISTAKEN = (
    "Not yet. First: band touching the neighbour.",
    "Stop. Put the sharp down safely.",
    "Brush adhesive on where instructions say so.",
    "Breathing: sit up, keep someone beside them.",
)


@pytest.fixture(scope="module")
def recogniser():
    with closing(recogniser_of("auto", None)) as made:
        yield made


@pytest.fixture(scope="module")
def voice():
    with closing(CachedVoice(PyttsVoice())) as made:
        yield made


@pytest.mark.parametrize(("gain", "delay"), [(0.0, 0.25), (-12.0, 0.08)])
def test_prompts_that_hold_stop_words_are_no_cue(gain, delay, recogniser, voice):
    draw = np.random.default_rng(3)
    said = [each for each in prompts_of_one_case() if each[1].startswith(TELLING)][:2]
    assert len(said) == 2
    for plan, text, state in said:
        trial = Trial(plan, state, text, gain, delay)
        run(trial, recogniser, voice, draw)
        assert trial.cues == []


@pytest.mark.parametrize("text", MISTAKEN)
def test_what_sounds_like_a_stop_word_in_our_own_mouth_is_none(text, recogniser, voice):
    plan, _, state = prompts_of_one_case()[0]
    trial = Trial(plan, state, text, 0.0, 0.08)
    run(trial, recogniser, voice, np.random.default_rng(3))
    assert trial.cues == []


@pytest.mark.parametrize("phrase", [STOPS[1], STOPS[3]])
def test_stop_and_pause_over_our_own_voice_are_obeyed(phrase, recogniser, voice):
    """At -20 dB of loop gain: a loudspeaker across the room. How often, at which gain, is the
    benchmark's figure."""
    plan, text, state = max(prompts_of_one_case(), key=lambda each: len(each[1]))
    trial = Trial(plan, state, text, -20.0, 0.08, over=phrase)
    run(trial, recogniser, voice, np.random.default_rng(5))
    assert trial.cues == ["pause" if phrase in STOPS[2:] else "quiet"]


def test_bits_of_our_own_voice_beside_a_stop_word_are_no_denial_of_it(recogniser, voice):
    """At -6 dB, a loudspeaker near by: "un stop talking" was heard, and nothing done."""
    plan, _, state = prompts_of_one_case()[0]
    trial = Trial(plan, state, "Turn the hatchet, widen the opening.", -6.0, 0.08, over=STOPS[0])
    run(trial, recogniser, voice, np.random.default_rng(5))
    assert trial.cues == ["quiet"]


def prompts_of_one_case():
    plan = setting("composite-46-mo", DEFAULT_PRACTICE).plan
    return [(plan, text, state) for text, state in foreseen(SessionMachine(plan))]


def test_the_end_of_playback_opens_the_ears_and_not_the_end_of_synthesis():
    class AtOnce:
        """Renders three seconds in no time."""

        def render(self, text):
            return Sound(np.ones(66_150, np.int16), 22_050, text)

        def close(self):
            pass

    plan = setting("composite-46-mo", DEFAULT_PRACTICE).plan
    journal = MemoryJournal()
    mouth = Mouth(AtOnce(), MuteLoudspeaker())
    session = journal.open_session(plan, "2026-01-01T09:00:00+00:00")
    conductor = Conductor(SessionMachine(plan), journal, session, mouth)
    conductor.start(0.0)
    ends = mouth.busy_until(0.0)
    assert ends >= 3.0
    assert {cue.tier for cue in conductor.vocabulary(0.1).cues} == {Tier.STOP, Tier.ALARM}
    for at in (0.1, ends - 0.01, ends + ROOM_TAIL - 0.01):
        assert conductor.vocabulary(at).stop_only
    after = conductor.vocabulary(ends + ROOM_TAIL + 0.01)
    assert not after.stop_only
    assert conductor.state.step in {cue.id.partition(".")[0] for cue in after.cues}
