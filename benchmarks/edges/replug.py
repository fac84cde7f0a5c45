"""Microphone and loudspeaker go away and come back, a hundred times in one session.

Each time in the middle of a cue that is being said. What counts: the loss is told and shown within
two seconds, the return within three; the cue that was torn apart is never acted on; a passed
maximum goes on reminding, by chime while there is a loudspeaker, and on the screen.
"""

from __future__ import annotations

import os
import signal
import tempfile
import threading
import time
from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import dataclass, field, replace
from itertools import cycle
from pathlib import Path
from typing import Any

from rich.progress import track

from benchmarks.edges.chair import Chair, laid_out, spoken
from benchmarks.edges.figures import leave, spread
from benchmarks.edges.recorder import Recorder
from benchmarks.edges.sound_room import LOUDSPEAKER, MICROPHONE, RATE, SoundRoom
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.conducting import Exchange
from sidecue.hearing.microphone import Microphone
from sidecue.procedure.plan import TimerKind, TimerSpec
from sidecue.session.effects import Chime, ChimeKind
from sidecue.session.events import CueGiven, DeviceBack, TimePassed
from sidecue.session.state import RunningTimer
from sidecue.session.view import view
from sidecue.speaking.cache import CachedVoice, default_folder
from sidecue.speaking.voice import PyttsVoice

CUE = "okay-tray-identity-confirmed.flite"
MIC, SPEAKER = "microphone", "loudspeaker"
_TORN_AT = 1.1  # s after the cue's player started: in the middle of it
_AWAY = 1.0  # s from the loss's being shown to the return
_GIVES_UP = 20.0  # s
_MENDS_ITSELF = 4.0  # s in which what comes back by itself is missed, or is mended unmissed
_RINGS_WITHIN = 0.5  # s: a chime after its event
_MAXIMUM = TimerSpec("etch", TimerKind.HARD_MAXIMUM, most=5.0)

Pull = Callable[[bool], None]


@dataclass(frozen=True)
class Way:
    """A way to go away and come back."""

    name: str
    lost: frozenset[str]
    pull: Pull
    returns: bool = True  # False: it comes back by itself, from the moment it is noticed


@dataclass
class Cycle:
    """What one of them led to; seconds."""

    way: str
    told: float | None = None
    shown: float | None = None
    back: float | None = None
    unmissed: bool = False  # it came back by itself sooner than a loss is told
    acted: tuple[str, ...] = ()


def ways(room: SoundRoom, chair: Chair, ears: Callable[[], Microphone | None]) -> list[Way]:
    """All ways, in the order in which they take turns."""

    def pactl(command: str, device: str) -> Pull:
        return lambda on: void(room.pactl(command, device, str(int(on))))

    def microphone(on: bool) -> None:
        if on:
            room.unplug_microphone()
        else:
            room.plug_microphone()

    def elsewhere(on: bool) -> None:
        if on:
            room.unplug_microphone()
        else:
            room.plug_microphone(extra=True)

    def loudspeaker(on: bool) -> None:
        if on:
            room.unplug_loudspeaker()
        else:
            room.plug_loudspeaker()

    def both(on: bool) -> None:
        microphone(on)
        loudspeaker(on)

    def server(on: bool) -> None:
        if on:
            room.stop()
        else:
            room.start()

    def hang(child: Callable[[], Any]) -> Pull:
        def pull(on: bool) -> None:
            held = child()
            if on and held is not None:
                os.kill(held.pid, signal.SIGSTOP)

        return pull

    mic, speaker, all_ = frozenset({MIC}), frozenset({SPEAKER}), frozenset({MIC, SPEAKER})
    return [
        Way("microphone unplugged", mic, microphone),
        Way("loudspeaker unplugged", speaker, loudspeaker),
        Way("microphone suspended", mic, pactl("suspend-source", MICROPHONE)),
        Way("loudspeaker suspended", speaker, pactl("suspend-sink", LOUDSPEAKER)),
        Way("microphone back under another number", mic, elsewhere),
        Way("loudspeaker muted", speaker, pactl("set-sink-mute", LOUDSPEAKER)),
        Way("microphone silent", mic, pactl("set-source-mute", MICROPHONE)),
        Way("both unplugged", all_, both),
        Way("microphone delivers nothing", mic, hang(lambda: ears()._child), returns=False),
        Way("loudspeaker takes nothing", speaker, hang(lambda: chair.loudspeaker._child), False),
        Way("sound server gone", all_, server),
    ]


def void(_: object) -> None:
    """Drop a result."""


@dataclass
class Bench:
    """One session, and a thread that pulls things out of it."""

    room: SoundRoom
    chair: Chair
    count: int
    cycles: list[Cycle] = field(default_factory=list)
    over: bool = False
    control: bool = False  # a whole cue is still obeyed at the end
    rings: int = 0
    unheard: int = 0
    unseen: int = 0
    fault: BaseException | None = None

    def run(self) -> None:
        """Pull and put back `count` times, then say a whole cue."""
        try:
            turns = cycle(ways(self.room, self.chair, lambda: self.chair.microphone))
            for _ in track(range(self.count), "pulled out"):
                self._quiet()
                self.cycles.append(self._one(next(turns)))
            self._quiet()
            before = self._cues()
            self._say()
            self.control = self._until(lambda: self._cues() != before) is not None
        except BaseException as fault:  # noqa: BLE001  told by the main thread
            self.fault = fault
        finally:
            self.over = True

    def _one(self, way: Way) -> Cycle:
        found, chair = Cycle(way.name), self.chair
        given = self._cues()
        recorder = None if SPEAKER in way.lost else Recorder(LOUDSPEAKER)
        first = len(chair.exchanges)
        if MIC in way.lost:  # with the loudspeaker alone away, it would be heard whole, and count
            self._say()
        time.sleep(_TORN_AT)
        pulled = chair.clock.now()
        way.pull(True)
        within = _GIVES_UP if way.returns else _MENDS_ITSELF
        if self._until(lambda: way.lost <= self._lost(), within) is not None:
            found.shown = chair.clock.now() - pulled
            lost = [at for at, each in self._since(first) if way.lost <= each.after.lost]
            found.told = lost[0] - pulled
        elif not way.returns:
            found.unmissed = self._until(lambda: not self._lost()) is not None
        time.sleep(_AWAY)
        way.pull(False)
        returned = chair.clock.now() if way.returns else pulled + (found.told or 0.0)
        if self._until(lambda: not self._lost()) is not None and not found.unmissed:
            backs = [at for at, each in self._since(first) if isinstance(each.event, DeviceBack)]
            found.back = max(backs) - returned
        found.acted = self._cues()[len(given) :]
        self._rang(first, recorder)
        return found

    def _rang(self, first: int, recorder: Recorder | None) -> None:
        """Whether each reminder since was heard (while there was a loudspeaker) and shown."""
        time.sleep(_RINGS_WITHIN)
        for at, each in self._since(first):
            due = any(isinstance(e, Chime) and e.kind is ChimeKind.DUE for e in each.effects)
            if not due or not isinstance(each.event, TimePassed):
                continue
            self.rings += 1
            seen = view(self.chair.conductor.machine, each.after, at)
            self.unseen += not any(timer.overdue for timer in seen.timers)
            if recorder is not None:
                moment = time.monotonic() - (self.chair.clock.now() - at)
                loud = recorder.loud(moment)
                self.unheard += not (len(loud) and loud[0] - moment < _RINGS_WITHIN)
        if recorder is not None:
            recorder.close()

    def _say(self) -> None:
        words = spoken(CUE)
        self.room.play(laid_out(len(words) / RATE + 0.3, (0.3, words)))

    def _cues(self) -> tuple[str, ...]:
        events = (each.event for _, each in list(self.chair.exchanges))
        return tuple(event.cue for event in events if isinstance(event, CueGiven))

    def _since(self, first: int) -> Iterator[tuple[float, Exchange]]:
        return iter(list(self.chair.exchanges)[first:])

    def _lost(self) -> frozenset[str]:
        return self.chair.shown[-1][1] if self.chair.shown else frozenset({MIC, SPEAKER})

    def _quiet(self) -> None:
        """Until nothing is missing, nothing is said, and the next reminder is some way off."""

        def calm() -> bool:
            now, conductor = self.chair.clock.now(), self.chair.conductor
            due = conductor.machine.next_reminder(conductor.state)
            near = due is not None and 0.0 < due - now < 3.0
            return not self._lost() and not conductor.speaking(now) and not near

        if self._until(calm) is None:
            why = self.chair.microphone.why_lost if self.chair.microphone else ""
            raise RuntimeError(f"no rest: {sorted(self._lost())} lost, {why}; {self.cycles[-1:]}")
        time.sleep(0.6)

    def _until(self, condition: Callable[[], bool], within: float = _GIVES_UP) -> float | None:
        begun = time.monotonic()
        while not condition():
            if time.monotonic() - begun > within:
                return None
            time.sleep(0.01)
        return time.monotonic() - begun


def main(count: int) -> None:
    """Run it, leave the figures."""
    with (
        tempfile.TemporaryDirectory() as name,
        SoundRoom(Path(name)) as room,
        closing(CachedVoice(PyttsVoice(), default_folder())) as voice,
        closing(recogniser_of("auto", None)) as recogniser,
    ):
        chair = Chair.live(voice)
        bench = Bench(room, chair, count)
        worker = threading.Thread(target=bench.run, daemon=True)

        def begun() -> None:
            # A maximum that passes in a few seconds and is answered by nobody.
            conductor = chair.conductor
            timer = RunningTimer(_MAXIMUM, conductor.state.step, conductor.state.now, None)
            conductor.state = replace(conductor.state, timers=(timer,))
            worker.start()

        chair.run(recogniser, lambda _: bench.over, begun)
        worker.join(timeout=5.0)
        chair.loudspeaker.close()
    if bench.fault is not None:
        raise bench.fault
    leave("replug", figures(bench))


def figures(bench: Bench) -> dict[str, Any]:
    """All that was found, as a whole and for each way."""
    by_way: dict[str, list[Cycle]] = defaultdict(list)
    for each in bench.cycles:
        by_way[each.way].append(each)
    missed = [each for each in bench.cycles if not each.unmissed]
    return {
        "times pulled out": len(bench.cycles),
        "mended by itself before it was missed": len(bench.cycles) - len(missed),
        "never told": sum(each.told is None for each in missed),
        "never back": sum(each.back is None for each in missed),
        "told after more than 2 s": sum((each.told or 9) > 2.0 for each in missed),
        "back after more than 3 s": sum((each.back or 9) > 3.0 for each in missed),
        "torn cues acted on": sum(bool(each.acted) for each in bench.cycles),
        "a whole cue is obeyed afterwards": bench.control,
        "reminders of a passed maximum": bench.rings,
        "not on the screen": bench.unseen,
        "not heard, with the loudspeaker there": bench.unheard,
        "told": spread([each.told for each in bench.cycles if each.told is not None]),
        "shown": spread([each.shown for each in bench.cycles if each.shown is not None]),
        "back": spread([each.back for each in bench.cycles if each.back is not None]),
        **{
            way: {
                "told": spread([each.told for each in cycles if each.told is not None]),
                "back": spread([each.back for each in cycles if each.back is not None]),
            }
            for way, cycles in by_way.items()
        },
    }
