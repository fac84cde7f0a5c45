"""Setting up a case with ears and a mouth, before there is a session to run."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from queue import Empty, SimpleQueue
from typing import Any

from sidecue.conductor.conducting import ROOM_TAIL, Mouth
from sidecue.conductor.pedal import Pedal
from sidecue.conductor.running import Command, DeviceChange, Press, Talk, Typed, WallClock
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import AudioSource, Hearing, Vocabulary
from sidecue.hearing.silence import in_silence
from sidecue.hearing.text import hear_text
from sidecue.procedure.plan import Cue, Plan
from sidecue.session.effects import Effect, Say
from sidecue.session.keys import LETTERS
from sidecue.session.setting_up import SettingUp, SetUpMachine

_KEYS = {LETTERS[cue]: cue for cue in ("confirm", "deny", "repeat", "quiet")}


@dataclass(frozen=True, slots=True)
class Entered:
    """The case as it stands on a screen; None begins an empty one, aloud."""

    entry: Mapping[str, Any] | None


@dataclass(frozen=True, slots=True)
class Begun:
    """A screen started this plan."""

    plan: Plan


Asked = Press | Typed | Talk | Entered | Begun | Command | DeviceChange
Requests = SimpleQueue[Asked]


@dataclass(frozen=True, slots=True)
class Turn:
    """What was heard, if anything was, what came of it, and what is said."""

    state: SettingUp
    hearing: Hearing | None = None
    said: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Listener:
    """How a set-up is listened to: the address, what engine-wide goes with it, and the words that
    the engine does not know, whose phrases are left out."""

    address: str
    decoys: tuple[str, ...] = ()
    pronunciations: tuple[tuple[str, str], ...] = ()
    unknown: frozenset[str] = frozenset()


class Preparing:
    """Sets one case up. Not thread-safe: one thread owns it. `watch` gets every turn."""

    def __init__(
        self,
        machine: SetUpMachine,
        listener: Listener,
        mouth: Mouth,
        watch: Callable[[Turn], None] = lambda _: None,
    ) -> None:
        self.machine = machine
        self.state = machine.rest(0.0)
        self._listener, self._mouth, self._watch = listener, mouth, watch
        self._pedal = Pedal()
        self._quiet_from = float("-inf")

    def begin(self, entry: Mapping[str, Any], now: float) -> None:
        """Begin with `entry`, asking for what is missing."""
        self._take(self.machine.first(entry, now), now)

    def hear(self, hearing: Hearing, now: float) -> None:
        """Take one judged utterance."""
        if hearing.cue is None:
            self._watch(Turn(self.state, hearing))
        else:
            self._take(self.machine.said(self.state, hearing.cue, now), now, hearing)

    def cue(self, cue: str, now: float) -> None:
        """Take a cue given by hand, when it counts now."""
        found = next((each for each in self.machine.cues(self.state) if each.id == cue), None)
        if found is not None:
            hearing = Hearing(now, now, cue, found.phrases[0], 1.0, found.tier, "accepted")
            self.hear(hearing, now)

    def clock(self, now: float) -> None:
        """Let time pass."""
        state, effects = self.machine.passed(self.state, now)
        if state is not self.state:
            self._take((state, effects), now)

    def obey(self, asked: Asked, now: float) -> None:
        """Take what was typed, pressed or entered on a screen."""
        match asked:
            case Typed():
                self.hear(hear_text(asked.phrase, now, self.vocabulary(now, typed=True)), now)
            case Press() if asked.key in _KEYS:
                self.cue(_KEYS[asked.key], now)
            case Talk():
                self._pedal.talk(now, asked.held)
            case Entered(None):
                self.begin({}, now)
            case Entered(dict() as entry):
                self.state = self.machine.entered(self.state, entry, now)
            case Begun():
                self.state = replace(self.state, begun=asked.plan)

    def speaking(self, now: float) -> bool:
        """Whether our own voice, or its echo, is in the room."""
        return self._mouth.busy_until(now) > now or now < self._quiet_from + ROOM_TAIL

    def held(self, now: float) -> bool:
        """Whether the pedal is held to talk."""
        return self._pedal.held(now)

    def vocabulary(self, now: float, *, typed: bool = False) -> Vocabulary:
        """Return what may be heard from `now` on; while we speak, only stops and alarms, and while
        we do not, none that silences us. What is `typed` always counts."""
        own = tuple(self._known(self.machine.cues(self.state)))
        speaking = not typed and self.speaking(now)
        heard = Vocabulary(
            cues=tuple(cue for cue in own if cue.tier.always) if speaking else own,
            address=self._listener.address,
            bare=self.machine.answering(self.state, now) or self.held(now),
            stop_only=speaking,
            decoys=(*self._listener.decoys, *self.machine.decoys(self.state)),
            pronunciations=self._listener.pronunciations,
            saying=self._mouth.saying(now) if speaking else (),
        )
        return heard if typed or speaking else in_silence(heard)

    def _known(self, cues: Iterable[Cue]) -> Iterable[Cue]:
        for cue in cues:
            phrases = tuple(
                each
                for each in cue.phrases
                if not self._listener.unknown.intersection(each.split())
            )
            if phrases:
                yield cue if phrases == cue.phrases else replace(cue, phrases=phrases)

    def _take(
        self, step: tuple[SettingUp, tuple[Effect, ...]], now: float, heard: Hearing | None = None
    ) -> None:
        self.state, effects = step
        said = tuple(effect.text for effect in effects if isinstance(effect, Say))
        self._watch(Turn(self.state, heard, said))  # before the voice is rendered
        if effects:
            self._quiet_from = self._mouth.carry_out(effects, now)


def run_preparing(
    preparing: Preparing,
    ears: Ears | None,
    source: AudioSource,
    clock: WallClock,
    requests: Requests,
    show: Callable[[float], None],
) -> Plan | None:
    """Set a case up until it is started; return its plan, None when the source ends before."""
    for block in source.blocks():
        now = clock.now()
        preparing.clock(now)
        _obey(preparing, requests, now)
        if ears is not None:
            for hearing in ears.take(block).hearings:
                preparing.hear(hearing, clock.now())
        show(now)
        if preparing.state.begun is not None:
            return preparing.state.begun
    return None


def _obey(preparing: Preparing, requests: Requests, now: float) -> None:
    while preparing.state.begun is None:
        try:
            preparing.obey(requests.get_nowait(), now)
        except Empty:
            return
