"""A session brought to a moment of a visit, that hears one recording through the real ears."""

from dataclasses import dataclass
from pathlib import Path

import manifest
import numpy as np
from situations import Situation, machine_of, state_in

from sidecue.conductor.conducting import Conductor
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import RATE, Block
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.events import CueGiven, HearingRefused

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
ENTRIES = manifest.entries()
SPOKEN = [entry for entry in ENTRIES if "phrase" in entry]
ODD = [entry for entry in ENTRIES if "phrase" not in entry]
BLOCK = RATE // 20


def situation(entry):
    """The moment an entry of the manifest names."""
    at = dict(entry["at"])
    return Situation(**{**at, "after": tuple(at.get("after", ()))})


class StillMouth:
    """Says nothing; `speaking` for as long as the test wants."""

    def __init__(self, speaking):
        self.speaking = speaking

    def carry_out(self, effects, now):
        return now

    def busy_until(self, now):
        return now + 60.0 if self.speaking else now

    def saying(self, now):
        return ()


@dataclass
class Outcome:
    """What was acted on, what was refused and why, and the states before and after."""

    cues: list
    refusals: list
    before: object
    after: object


def hear(samples, at, recogniser):
    """Play `samples`, in a room with a noise floor, to a session in situation `at`."""
    machine = machine_of(at.visit)
    journal = MemoryJournal()
    session = journal.open_session(machine.plan, "2026-01-01T09:00:00+00:00")
    events = []
    conductor = Conductor(
        machine, journal, session, StillMouth(at.speaking),
        [lambda exchange: events.append(exchange.event)],
    )  # fmt: skip
    before = conductor.state = state_in(at)
    ears = Ears(recogniser, lambda _: conductor.vocabulary(conductor.state.now))
    for heard in ears.listen(Played(in_quiet_room(samples))):
        for hearing in heard.hearings:
            conductor.hear(hearing, conductor.state.now)
    return Outcome(
        [event.cue for event in events if isinstance(event, CueGiven)],
        [event.why for event in events if isinstance(event, HearingRefused)],
        before,
        conductor.state,
    )


class Played:
    """Samples as an audio source."""

    def __init__(self, samples):
        self.samples = samples

    def blocks(self):
        for at in range(0, len(self.samples), BLOCK):
            yield Block(at / RATE, self.samples[at : at + BLOCK])

    def close(self):
        pass


def in_quiet_room(samples):
    """Half a second of room (-70 dBFS) before, a little more after."""
    draw = np.random.default_rng(70)
    before, after = (
        np.rint(draw.standard_normal(round(lasts * RATE)) * 10 ** (-70 / 20) * 32768)
        for lasts in (0.5, 0.8)
    )
    return np.concatenate([before, samples, after]).astype(np.int16)
