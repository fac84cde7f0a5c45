"""A sitting of tuning: phrases are read out and said after, then ordinary talk is listened to.

What is kept of the sound is numbers: trials and stretches (see `hearing.tuning`). All times are
seconds on the clock of the source's blocks, so a recording passes as fast as it is judged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from sidecue.conductor.conducting import ROOM_TAIL
from sidecue.hearing.ears import finder_of
from sidecue.hearing.endpoint import Endpointer, Utterance
from sidecue.hearing.port import RATE, AudioSource, Hearing, Recogniser, Vocabulary
from sidecue.hearing.tuning import Stretch, Trial
from sidecue.hearing.tuning_lines import Line
from sidecue.procedure.plan import Tier

PATIENCE = 4.0  # s that somebody has to begin; in a recording nobody waits for anybody
GRACE = 1.2  # s after words that were not it: people correct themselves
PHRASES_FOR = 110.0  # s for all phrases; with TALK_FOR and what is said between, under 180
TALK_FOR = 60.0
SECOND_TRIES = 4  # missed cues that are asked for once more, in other words
DEAF = 3  # phrases in a row without a word: there is nothing to go on with

Say = Callable[[str, float], float]  # what to say and now; returns when playback ends
Heard = Callable[[Line, Trial], None]


class NothingHeardError(Exception):
    """Not a word came; the message says what to look at."""


@dataclass(slots=True)
class Sitting:
    """What came of a sitting."""

    trials: list[Trial]
    talk: list[Stretch]
    lasted: float = 0.0  # s of the whole
    talked: float = 0.0  # s of ordinary talk that were listened to
    unasked: int = 0  # phrases that there was no time for


class Listener:
    """The blocks of one source as utterances, one at a time."""

    def __init__(self, recogniser: Recogniser, source: AudioSource, address: str) -> None:
        self._recogniser = recogniser
        self._endpointer = Endpointer(finder=finder_of(recogniser), opening=address)
        self._blocks = source.blocks()
        self._deaf_until = 0.0
        self.now = 0.0
        self.over = False

    @property
    def speaking(self) -> bool:
        """Somebody is talking now."""
        return self._endpointer.speaking

    def not_before(self, at: float) -> None:
        """Hear nothing until `at`: our own voice is in the room."""
        self._deaf_until = at

    def next(self) -> list[Utterance]:
        """Take one block in; return what ended with it. Sets `over` at the source's end."""
        block = next(self._blocks, None)
        if block is None:
            self.over = True
            return self._endpointer.flush()
        self.now = max(self.now, block.at + len(block.samples) / RATE)
        if self.now <= self._deaf_until:
            return []
        return [said for said in self._endpointer.feed(block) if said.final]

    def judge(self, said: Utterance, moment: Vocabulary) -> Hearing:
        """Judge an utterance as if said at `moment`."""
        return self._recogniser.hear(said.samples, said.started, moment)


def trial_of(line: Line, hearing: Hearing | None) -> Trial:
    """Return what a hearing is worth for the phrase that was wanted."""
    cue, phrase, tier = line.cue, line.phrase, line.cue.tier
    if hearing is None or hearing.tier is None:
        return Trial(cue.id, phrase, tier, read_as="" if hearing is None else hearing.phrase)
    heard = next(
        (each.id for each in line.moment.cues if hearing.phrase in each.phrases), None
    )  # fmt: skip
    return Trial(cue.id, phrase, tier, heard, hearing.phrase, hearing.tier, hearing.score)


def stretch_of(hearings: Sequence[Hearing]) -> Stretch:
    """Return what one stretch of talk is worth, judged at several moments."""
    highest: dict[Tier, float] = {}
    for hearing in hearings:
        if hearing.tier is not None:
            highest[hearing.tier] = max(hearing.score, highest.get(hearing.tier, 0.0))
    return Stretch(tuple(sorted(highest.items())))


def sit(
    listener: Listener,
    lines: Sequence[Line],
    moments: Sequence[Vocabulary],
    say: Say,
    heard: Heard,
    others: Callable[[Line], Sequence[Line]],
    announce: Callable[[float], float],
    *,
    hurry: bool = True,
) -> Sitting:
    """Hear the lines, some missed ones in other words, and a minute of talk.

    `announce` asks for the talk and returns when it was asked. Without `hurry`, for a recording,
    whatever is said next answers the next phrase, after any time. Raises NothingHeardError when
    the first phrases, or none at all, brought a word.
    """
    found = Sitting([], [])
    listener.next()  # the first block tells what time it is
    began = listener.now
    until = began + PHRASES_FOR if hurry else float("inf")
    again: list[Line] = []
    for number, line in enumerate(lines):
        if listener.now >= until or listener.over:
            found.unasked = len(lines) - number
            break
        trial = _trial(listener, line, say, PATIENCE if hurry else float("inf"))
        found.trials.append(trial)
        heard(line, trial)
        if number + 1 == DEAF and not any(each.read_as for each in found.trials):
            break
        if trial.missed(_EVEN):
            again += others(line)[:1]
    if not any(each.read_as for each in found.trials):
        raise NothingHeardError("not a word was heard")
    for line in again[:SECOND_TRIES] if hurry else ():
        if listener.now >= until or listener.over:
            break
        trial = _trial(listener, line, say, PATIENCE)
        found.trials.append(trial)
        heard(line, trial)
    _talk(listener, moments, announce, found)
    found.lasted = listener.now - began
    return found


_EVEN = dict.fromkeys(Tier, 0.5)  # what is less probable than this is asked for once more


def hear_phrase(listener: Listener, line: Line) -> Trial:
    """Judge everything of a source that holds one phrase; the best reading counts."""
    best = trial_of(line, None)
    for said in _all(listener):
        best = _better(best, trial_of(line, listener.judge(said, line.moment)))
    return best


def hear_talk(listener: Listener, moments: Sequence[Vocabulary]) -> Iterator[Stretch]:
    """Judge everything of a source that holds ordinary talk."""
    for said in _all(listener):
        yield stretch_of([listener.judge(said, moment) for moment in moments])


def _all(listener: Listener) -> Iterator[Utterance]:
    while not listener.over:
        yield from listener.next()


def _trial(listener: Listener, line: Line, say: Say, patience: float) -> Trial:
    """Say a line, and hear what comes back."""
    ends = say(line.said, listener.now)
    if ends > listener.now:
        ends += ROOM_TAIL
        listener.not_before(ends)
    until = ends + patience
    best = trial_of(line, None)
    while not listener.over and (listener.now < until or listener.speaking):
        for said in listener.next():
            best = _better(best, trial_of(line, listener.judge(said, line.moment)))
            until = min(until, listener.now + GRACE)
        if best.right:
            break
    return best


def _better(one: Trial, other: Trial) -> Trial:
    """What is right counts before what is not, then what is more probable."""
    return max(other, one, key=lambda trial: (trial.right, trial.score, bool(trial.read_as)))


def _talk(
    listener: Listener,
    moments: Sequence[Vocabulary],
    announce: Callable[[float], float],
    found: Sitting,
) -> None:
    ends = announce(listener.now)
    if ends > listener.now:
        listener.not_before(ends + ROOM_TAIL)
    began = ends
    while not listener.over and listener.now < ends + TALK_FOR:
        for said in listener.next():
            found.talk.append(stretch_of([listener.judge(said, each) for each in moments]))
    found.talked = max(0.0, listener.now - began)
