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
from sidecue.hearing.ears import Ears, Heard
from sidecue.hearing.levels import LevelWatch
from sidecue.hearing.port import AudioSource
from sidecue.hearing.text import hear_text
from sidecue.session.events import DeviceBack, DeviceLost, Source

#: Seconds without a block after which the microphone counts as lost.
DEAF_AFTER = 1.2
MICROPHONE = "microphone"
LOUDSPEAKER = "loudspeaker"


@dataclass(frozen=True, slots=True)
class Command:
    """A cue given by hand, by its id: from the board. `phrase` is how it was shown."""

    cue: str
    source: Source
    phrase: str = ""


@dataclass(frozen=True, slots=True)
class Press:
    """A key or pedal pressed; which cue that is depends on the state it meets."""

    key: str
    source: Source = Source.KEY


@dataclass(frozen=True, slots=True)
class Typed:
    """A phrase typed by hand, judged as if it had been said."""

    phrase: str


@dataclass(frozen=True, slots=True)
class Talk:
    """A pedal is held down to talk (told again and again meanwhile), or let go."""

    held: bool


@dataclass(frozen=True, slots=True)
class DeviceChange:
    """A device went away or returned, as its own thread noticed."""

    device: str
    present: bool


Commands = SimpleQueue[Command | Press | Typed | Talk | DeviceChange]
Show = Callable[[float], None]
Tell = Callable[[str], None]


class WallClock:
    """Seconds since the session was opened, through restarts of the program."""

    def __init__(self, opened: float) -> None:
        self._opened = opened

    def now(self) -> float:
        """Return the session's time."""
        return time.time() - self._opened


def run_recording(
    conductor: Conductor,
    listening: Iterable[Heard],
    show: Show,
    commands: Commands | None = None,
    source: Source = Source.VOICE,
) -> None:
    """Run until the recording, the script or the procedure ends; `commands` come in between.
    `source` is how its phrases came in."""
    for heard in listening:
        conductor.clock(heard.now)
        if commands is not None:
            _obey(conductor, commands, heard.now)
        for hearing in heard.hearings:
            if conductor.state.live:
                conductor.hear(hearing, heard.now, source)
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
    tell: Tell = lambda _: None,
) -> None:
    """Run until the procedure ends. `source` must yield an empty block when nothing arrives, so
    that timers ring and keys work with a lost microphone, or with none (`ears` None). `tell` gets
    remarks about the sound, each once."""
    arrived = clock.now()
    levels = LevelWatch()
    for block in source.blocks():
        now = clock.now()
        conductor.clock(now)
        _obey(conductor, commands, now)
        _note_device(conductor, DeviceChange(LOUDSPEAKER, conductor.audible), now)
        if len(block.samples):
            arrived = now
        if ears is not None:
            _watch_microphone(conductor, now, arrived)
            levels.take(block)
            for hearing in ears.take(block).hearings:
                if remark := levels.heard(hearing):
                    tell(remark)
                if conductor.state.live:
                    conductor.hear(hearing, clock.now())
        show(now)
        if not conductor.state.live:
            return


def _obey(conductor: Conductor, commands: Commands, now: float) -> None:
    while conductor.state.live:
        try:
            command = commands.get_nowait()
        except Empty:
            return
        match command:
            case Command():
                conductor.cue(command.cue, now, command.source, command.phrase)
            case Press():
                conductor.press(command.key, now, command.source)
            case Typed():
                heard = hear_text(command.phrase, now, conductor.vocabulary(now, typed=True))
                conductor.hear(heard, now, Source.TEXT)
            case Talk():
                conductor.talk(now, command.held)
            case DeviceChange():
                _note_device(conductor, command, now)


def _note_device(conductor: Conductor, change: DeviceChange, now: float) -> None:
    """Tell the session once for each loss and each return."""
    state = conductor.state
    if state.live and change.present == (change.device in state.lost):
        event = DeviceBack if change.present else DeviceLost
        conductor.give(event(max(now, state.now), change.device))


def _watch_microphone(conductor: Conductor, now: float, arrived: float) -> None:
    _note_device(conductor, DeviceChange(MICROPHONE, now - arrived <= DEAF_AFTER), now)
