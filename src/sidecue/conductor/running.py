"""The loops that drive a session: by sound, on the samples' own clock or live, and by text.

In a recording the sample clock is the session's clock, so an hour of procedure takes as long as
its utterances take to decode. Live, the wall clock is: a killed and resumed session finds its
timers counted on.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from queue import Empty, SimpleQueue

from sidecue.conductor.conducting import Conductor
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import AudioSource
from sidecue.session.events import DeviceBack, DeviceLost, Source

#: Seconds without a block after which the microphone counts as lost.
DEAF_AFTER = 2.0
MICROPHONE = "microphone"


@dataclass(frozen=True, slots=True)
class Command:
    """A cue given by hand: from a key, a pedal or the board."""

    cue: str
    source: Source


Commands = SimpleQueue[Command]
Show = Callable[[float], None]


class WallClock:
    """Seconds since the session was opened, through restarts of the program."""

    def __init__(self, opened: float) -> None:
        self._opened = opened

    def now(self) -> float:
        """Return the session's time."""
        return time.time() - self._opened


def run_recording(conductor: Conductor, ears: Ears, source: AudioSource, show: Show) -> None:
    """Run until the recording or the procedure ends; the rest of a finished one is not heard."""
    for heard in ears.listen(source):
        conductor.clock(heard.now)
        for hearing in heard.hearings:
            if conductor.state.live:
                conductor.hear(hearing, heard.now)
        show(heard.now)
        if not conductor.state.live:
            return


def run_live(
    conductor: Conductor,
    ears: Ears | None,
    source: AudioSource,
    clock: WallClock,
    commands: Commands,
    show: Show,
) -> None:
    """Run until the procedure ends. `source` must yield an empty block when nothing arrives, so
    that timers ring and keys work with a lost microphone, or with none (`ears` None)."""
    arrived = clock.now()
    for block in source.blocks():
        now = clock.now()
        conductor.clock(now)
        _obey(conductor, commands, now)
        if len(block.samples):
            arrived = now
        if ears is not None:
            _watch_microphone(conductor, now, arrived)
            for hearing in ears.take(block).hearings:
                if conductor.state.live:
                    conductor.hear(hearing, clock.now())
        show(now)
        if not conductor.state.live:
            return


def run_phrases(
    conductor: Conductor,
    phrases: Iterable[tuple[float | None, str]],
    hear: Callable[[str, float], None],
    now: Callable[[], float],
    show: Show,
) -> None:
    """Run from typed or scripted phrases: each with its time, or None to be taken as it comes."""
    for at, phrase in phrases:
        moment = now() if at is None else at
        conductor.clock(moment)
        if conductor.state.live:
            hear(phrase, moment)
        show(moment)
        if not conductor.state.live:
            return


def _obey(conductor: Conductor, commands: Commands, now: float) -> None:
    while conductor.state.live:
        try:
            command = commands.get_nowait()
        except Empty:
            return
        conductor.cue(command.cue, now, command.source)


def _watch_microphone(conductor: Conductor, now: float, arrived: float) -> None:
    lost = MICROPHONE in conductor.state.lost
    deaf = now - arrived > DEAF_AFTER
    if deaf and not lost and conductor.state.live:
        conductor.give(DeviceLost(max(now, conductor.state.now), MICROPHONE))
    elif lost and not deaf and conductor.state.live:
        conductor.give(DeviceBack(max(now, conductor.state.now), MICROPHONE))
