"""A session with a real microphone, a real loudspeaker and the real recogniser, in one process."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import numpy as np

from benchmarks.edges.patience import FairTimer
from benchmarks.edges.sound_room import LOUDSPEAKER, MICROPHONE
from sidecue.cli.setting import DEFAULT_PRACTICE, setting
from sidecue.conductor.conducting import Conductor, Exchange
from sidecue.conductor.running import Commands, WallClock, run_live, run_recording
from sidecue.hearing.ears import Ears
from sidecue.hearing.files import FileSource, read_sound
from sidecue.hearing.microphone import Microphone
from sidecue.hearing.port import AudioSource, Block, Recogniser, Samples
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.events import CueGiven, Event, HearingRefused
from sidecue.session.machine import SessionMachine
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.port import Loudspeaker

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"
CASE = "composite-46-mo"
_FLOWS = 10  # blocks after which nothing of the start is left
OPENED = "2026-01-01T09:00:00+00:00"


def spoken(name: str) -> Samples:
    """The fixture whose file name begins with `name`."""
    (path,) = sorted(FIXTURES.glob(f"accept/{name}*.flac"))[:1]
    return read_sound(path)


def laid_out(lasts: float, *said: tuple[float, Samples], noise: float = -75.0) -> Samples:
    """Utterances at their seconds in noise of so many dBFS."""
    draw = np.random.default_rng(11)
    track = draw.standard_normal(round(lasts * 16_000)) * 10 ** (noise / 20) * 32768
    for at, samples in said:
        begin = round(at * 16_000)
        track[begin : begin + len(samples)] += samples
    return np.clip(np.rint(track), -32768, 32767).astype(np.int16)


@dataclass
class Kept:
    """A source that keeps what it passed on, until `over` says so or it is told to close."""

    source: AudioSource
    over: Callable[[Block], bool]
    begun: Callable[[], object]  # called once, when sound flows
    blocks_kept: list[Block] = field(default_factory=list)

    def blocks(self) -> Iterator[Block]:
        """Pass on until it is over."""
        for block in self.source.blocks():
            if self.over(block):
                return
            if len(block.samples):
                self.blocks_kept.append(block)
                if len(self.blocks_kept) == _FLOWS:
                    self.begun()
            yield block

    def close(self) -> None:
        """Release the source."""
        self.source.close()

    @property
    def samples(self) -> Samples:
        """All that was passed on."""
        return np.concatenate([block.samples for block in self.blocks_kept])


class Chair:
    """One session of the composite, and all it did, with the moment on the session's clock."""

    def __init__(self, voice: CachedVoice, loudspeaker: Loudspeaker) -> None:
        plan = setting(CASE, DEFAULT_PRACTICE).plan
        self.loudspeaker = loudspeaker
        self.mouth = Mouth(voice, loudspeaker)
        journal = MemoryJournal()
        name = journal.open_session(plan, OPENED)
        self.clock = WallClock(time.time())
        self.exchanges: list[tuple[float, Exchange]] = []
        self.conductor = Conductor(SessionMachine(plan), journal, name, self.mouth)
        self.conductor.watch(lambda each: self.exchanges.append((self.clock.now(), each)))
        self.shown: list[tuple[float, frozenset[str]]] = []  # devices shown as lost, and when
        self.microphone: Microphone | None = None
        self._timer = FairTimer()
        self._fair: list[tuple[float, float]] = []  # moments, and fair seconds since the start

    @classmethod
    def live(cls, voice: CachedVoice) -> Chair:
        """Sit down at the sound room's loudspeaker."""
        return cls(voice, PortAudioLoudspeaker(LOUDSPEAKER))

    def run(
        self,
        recogniser: Recogniser,
        over: Callable[[Block], bool],
        begun: Callable[[], object],
    ) -> Kept:
        """Run live until a block for which it is `over`, `begun` being called when sound flows;
        return what the microphone delivered."""
        self.microphone = Microphone(MICROPHONE, self.clock.now)
        kept = Kept(self.microphone, over, begun)
        ears = Ears(recogniser, self.conductor.vocabulary)
        commands: Commands = SimpleQueue()
        try:
            self.conductor.start(self.clock.now())
            run_live(self.conductor, ears, kept, self.clock, commands, self._show)
        finally:
            kept.close()
        return kept

    def _show(self, now: float) -> None:
        self._fair.append((now, self._timer.read()))
        lost = self.conductor.state.lost
        if not self.shown or self.shown[-1][1] != lost:
            self.shown.append((now, lost))

    def between(self, begun: float, ended: float) -> float:
        """How many seconds went by, had the machine been ours alone."""
        moments, seconds = np.array(self._fair).T
        return float(np.interp(ended, moments, seconds) - np.interp(begun, moments, seconds))

    @property
    def events(self) -> list[Event]:
        """All events, in order."""
        return [exchange.event for _, exchange in self.exchanges]

    def timed(self, *kinds: type) -> list[tuple[float, Any]]:
        """Events of these kinds with the moment they were taken."""
        return [(at, each.event) for at, each in self.exchanges if isinstance(each.event, kinds)]

    @property
    def decisions(self) -> list[str]:
        """Cues, and refusals as "-"."""
        return decisions(self.events)


def decisions(events: list[Event]) -> list[str]:
    """Return each cue given, and "-" for each utterance refused."""
    heard = [each for each in events if isinstance(each, CueGiven | HearingRefused)]
    return [each.cue if isinstance(each, CueGiven) else "-" for each in heard]


def offline(path: Path, recogniser: Recogniser, voice: CachedVoice) -> list[str]:
    """What the same session decides from a file."""
    chair = Chair(voice, MuteLoudspeaker())
    ears = Ears(recogniser, chair.conductor.vocabulary)
    chair.conductor.start(0.0)
    run_recording(chair.conductor, ears.listen(FileSource(path)), lambda _: None)
    return chair.decisions
