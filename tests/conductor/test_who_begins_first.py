"""What may be heard when the tool and a person begin to speak at nearly the same time."""

from __future__ import annotations

from collections.abc import Iterable

import pytest

from sidecue.cli.setting import DEFAULT_CASE, DEFAULT_PRACTICE, setting
from sidecue.conductor.conducting import Conductor
from sidecue.hearing.port import Vocabulary
from sidecue.procedure.plan import Tier
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.effects import Effect, Say
from sidecue.session.events import CueGiven, Source
from sidecue.session.machine import SessionMachine

LASTS = 2.0  # seconds of whatever is said


class TalkingMouth:
    """Each sentence takes two seconds."""

    def __init__(self) -> None:
        self.until = float("-inf")
        self.texts: tuple[str, ...] = ()

    def carry_out(self, effects: Iterable[Effect], now: float) -> float:
        effects = tuple(effects)
        self.texts = tuple(each.text for each in effects if isinstance(each, Say))
        said = sum(isinstance(effect, Say) for effect in effects)
        self.until = max(self.until, now) + LASTS * said if said else self.until
        return self.until

    def busy_until(self, now: float) -> float:
        return max(now, self.until)

    def saying(self, now: float) -> tuple[str, ...]:
        return self.texts


@pytest.fixture
def chair() -> Conductor:
    plan = setting(DEFAULT_CASE, DEFAULT_PRACTICE).plan
    journal = MemoryJournal()
    name = journal.open_session(plan, "2026-03-02T09:30:00+01:00")
    made = Conductor(SessionMachine(plan), journal, name, TalkingMouth())
    made.start(0.0)
    return made


def test_while_the_tool_speaks_only_stop_words_count(chair: Conductor) -> None:
    words = chair.vocabulary(0.5)
    assert words.stop_only
    assert {cue.tier for cue in words.cues} == {Tier.STOP, Tier.ALARM}


def test_whoever_began_before_the_tool_is_heard_out(chair: Conductor) -> None:
    """A cue begun half a second before a prompt is a cue: common practice, no source."""
    chair.cue("how-long", 60.0, Source.KEY)
    assert chair.vocabulary(60.5).stop_only
    begun = chair.vocabulary(59.5)
    assert not begun.stop_only
    assert any(cue.tier is Tier.ADVANCE for cue in begun.cues)


def silencing(vocabulary: Vocabulary) -> bool:
    return any("stop talking" in cue.phrases for cue in vocabulary.cues)


def test_what_silences_the_tool_counts_only_while_it_speaks(chair: Conductor) -> None:
    """ "Quiet please" is said to people, too; "pause procedure" and every emergency always count:
    common practice, no source."""
    silent, speaking = chair.vocabulary(60.0), chair.vocabulary(0.5)
    assert silencing(speaking)
    assert speaking.idle == ()
    assert not silencing(silent)
    assert [cue.id for cue in silent.idle] == ["quiet"]
    stops = {cue.id for cue in speaking.cues if cue.tier is Tier.STOP}
    assert {cue.id for cue in silent.cues if cue.tier is Tier.STOP} == stops - {"quiet"}
    assert silencing(chair.vocabulary(60.0, typed=True))


def test_whoever_begins_to_silence_the_tool_just_before_a_prompt_does(chair: Conductor) -> None:
    chair.cue("how-long", 60.0, Source.KEY)
    assert silencing(chair.vocabulary(59.9))


def test_our_own_question_is_no_answer_to_itself(chair: Conductor) -> None:
    """Its words ("say confirm that") may come back into an utterance that began before it: the
    address is asked for, and no prompt holds it."""
    asked = 0.0
    for _ in range(20):  # until a step comes that may be left out
        asked += 600.0
        chair.cue("skip", asked, Source.KEY)
        if chair.state.question is not None:
            break
        cues = chair.machine.cues_now(chair.state)
        done = next((cue for cue in cues if cue.id == "confirm"), cues[0])
        chair.cue(done.id, asked + 300.0, Source.KEY)
        chair.cue("confirm", asked + 301.0, Source.KEY)  # where the step is read back
    assert chair.state.question is not None
    assert chair.vocabulary(asked + 0.5).stop_only
    assert not chair.vocabulary(asked - 0.5).bare
    assert not chair.vocabulary(asked - 0.5).stop_only
    address = chair.machine.plan.address
    assert not any(address in step.say.lower() for step in chair.machine.plan.steps)


def test_the_ears_are_told_what_the_tool_says_while_it_says_it(chair: Conductor) -> None:
    chair.give(CueGiven(60.0, "repeat"))
    said = chair.vocabulary(60.5).saying
    assert said
    assert chair.state.last_said in said
    assert chair.vocabulary(100.0).saying == ()
    assert chair.vocabulary(60.5, typed=True).saying == ()
