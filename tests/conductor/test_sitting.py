"""A sitting of tuning keeps to its time, and counts what was said after a phrase was read out."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

from sidecue.conductor import sitting
from sidecue.conductor.sitting import DEAF, PATIENCE, TALK_FOR, Listener, NothingHeardError, sit
from sidecue.hearing.port import RATE, Block, Hearing, Samples, Vocabulary
from sidecue.hearing.tuning_lines import Line
from sidecue.procedure.plan import Cue, Tier

BLOCK = RATE // 20
OPENED = 50.0  # what the clock says when the first sound arrives
READ_OUT = 2.0  # seconds that our own voice takes
RINSE = Cue("rinse", ("rinse done", "acid is gone"), Tier.ADVANCE, "")
MOMENT = Vocabulary((RINSE,), "okay tray")
LINES = (Line(RINSE, "rinse done", "okay tray rinse done", MOMENT),) * 20
RIGHT = Hearing(0, 0, "rinse", "rinse done", 0.9, Tier.ADVANCE, "accepted")
NOTHING = Hearing(0, 0, None, "", 0.0, None, "no cue")
OTHER = Hearing(0, 0, None, "wider please", 0.0, None, "not a cue of this step")


class Person:
    """A room in which somebody may speak: a burst of noise is a word."""

    name = "person"

    def __init__(self, *hears: Hearing) -> None:
        self.said: list[float] = []  # when each burst begins
        self._hears = list(hears)
        self._word = (np.random.default_rng(5).standard_normal(BLOCK) * 3000).astype(np.int16)
        self._quiet = (np.random.default_rng(6).standard_normal(BLOCK) * 2).astype(np.int16)

    def blocks(self) -> Iterator[Block]:
        for number in range(400 * RATE // BLOCK):
            at = OPENED + number * BLOCK / RATE
            loud = any(begin <= at < begin + 0.6 for begin in self.said)
            yield Block(at, self._word if loud else self._quiet)

    def close(self) -> None:
        pass

    def unknown_words(self, vocabulary: Vocabulary) -> tuple[str, ...]:
        return ()

    def hear(self, samples: Samples, started: float, vocabulary: Vocabulary) -> Hearing:
        return self._hears.pop(0) if len(self._hears) > 1 else self._hears[0]


def hold(person: Person, answers_after: float | None, lines=LINES):
    """Hold a sitting with somebody who answers so long after a phrase was read out."""
    asked: list[str] = []

    def say(text: str, now: float) -> float:
        asked.append(text)
        if answers_after is not None:
            person.said.append(now + READ_OUT + answers_after)
        return now + READ_OUT

    listener = Listener(person, person, "okay tray")
    found = sit(
        listener, lines, (MOMENT,), say, lambda *_: None, lambda _: (), lambda now: now + 3.0
    )
    return found, asked


def test_each_phrase_is_answered_and_then_talk_is_listened_to():
    found, asked = hold(Person(RIGHT), 0.5)
    assert len(asked) == 20
    assert all(trial.right for trial in found.trials)
    assert found.unasked == 0
    assert found.talked == pytest.approx(TALK_FOR, abs=0.2)
    assert found.lasted < 180  # under three minutes, however it goes


def test_somebody_who_falls_silent_does_not_make_it_longer():
    person = Person(RIGHT)
    person.said.append(OPENED + READ_OUT + 1.0)
    found, asked = hold(person, None)
    assert found.lasted < 180
    assert found.unasked == 20 - len(asked) > 0
    assert [trial.right for trial in found.trials[:2]] == [True, False]


def test_a_room_without_a_word_is_given_up_soon():
    person = Person(NOTHING)
    listener = Listener(person, person, "okay tray")
    with pytest.raises(NothingHeardError):
        sit(listener, LINES, (), lambda _, now: now, lambda *_: None, lambda _: (), lambda now: now)
    assert listener.now - OPENED < DEAF * (PATIENCE + 1)


@pytest.fixture
def short_talk(monkeypatch):
    monkeypatch.setattr(sitting, "TALK_FOR", 2.0)


@pytest.mark.usefixtures("short_talk")
def test_our_own_voice_is_no_answer():
    person = Person(RIGHT)
    person.said.append(OPENED + READ_OUT + 1.0)  # the first phrase is answered
    found, _ = hold(person, -1.5, lines=LINES[:3])  # and then only the loudspeaker is heard
    assert [trial.right for trial in found.trials] == [True, False, False]


@pytest.mark.usefixtures("short_talk")
def test_who_is_not_understood_may_say_it_again_and_is_asked_in_other_words():
    person = Person(OTHER, RIGHT, OTHER, OTHER, RIGHT)
    others = (Line(RINSE, "acid is gone", "okay tray acid is gone", MOMENT),)
    asked: list[str] = []

    def say(text: str, now: float) -> float:
        asked.append(text)
        person.said += [now + 0.5, now + 2.0] if len(asked) < 3 else [now + 0.5]
        return now

    listener = Listener(person, person, "okay tray")
    found = sit(listener, LINES[:2], (), say, lambda *_: None, lambda _: others, lambda now: now)
    assert [trial.right for trial in found.trials] == [True, False, True]
    assert found.trials[1].read_as == "wider please"
    assert asked[-1] == "okay tray acid is gone"
