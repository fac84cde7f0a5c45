"""One session being run: every event is on disk before any of its effects is carried out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from sidecue.conductor.pedal import Pedal
from sidecue.hearing.port import Hearing, Vocabulary
from sidecue.hearing.silence import in_silence
from sidecue.procedure.plan import Cue
from sidecue.record.port import Journal
from sidecue.session.effects import Effect
from sidecue.session.events import (
    CueGiven,
    Event,
    HearingRefused,
    Restarted,
    Source,
    Started,
    TimePassed,
)
from sidecue.session.illegal import IllegalEvent
from sidecue.session.keys import CHORDS, keys_for
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState
from sidecue.session.view import offered

#: After our own voice ends, the room still carries it for this long (seconds).
ROOM_TAIL = 0.3


class Mouth(Protocol):
    """What the conductor needs of a mouth."""

    def carry_out(self, effects: Iterable[Effect], now: float) -> float:
        """Say, chime and fall silent as asked; return when playback ends, without waiting."""
        ...

    def busy_until(self, now: float) -> float:
        """When playback ends; `now` when nothing plays."""
        ...

    def saying(self, now: float) -> tuple[str, ...]:
        """What is said now or was said just before."""
        ...


@dataclass(frozen=True, slots=True)
class Exchange:
    """One event and what came of it, for whoever watches."""

    event: Event
    before: SessionState
    after: SessionState
    effects: tuple[Effect, ...]


Watcher = Callable[[Exchange], None]


class Conductor:
    """Runs one session through its machine, journal and mouth.

    Not thread-safe: one thread owns it. A JournalError passes through before the state changes
    or an effect shows, so nothing is ever done that is not on disk.
    """

    def __init__(
        self,
        machine: SessionMachine,
        journal: Journal,
        session: str,
        mouth: Mouth,
        watchers: Sequence[Watcher] = (),
    ) -> None:
        self.machine = machine
        self.session = session
        self.state = machine.first()
        self._journal = journal
        self._mouth = mouth
        self._watchers = list(watchers)
        self._number = 0
        self._chord = ""  # the first of two keys, once pressed
        self._quiet_from = self._speaks_from = float("-inf")
        self._pedal = Pedal()

    def watch(self, watcher: Watcher) -> None:
        """Tell `watcher` every exchange from now on."""
        self._watchers.append(watcher)

    def start(self, at: float) -> None:
        """Begin at the first step."""
        self.give(Started(at))

    def resume(self, at: float) -> None:
        """Fold the stored events and go on from there; what fell due meanwhile rings once."""
        for event in self._journal.events(self.session):
            self.state, _ = self.machine.step(self.state, event)
            self._number += 1
        if self._number == 0:
            self.start(at)
        elif self.state.live:
            self.give(Restarted(max(at, self.state.now)))

    def give(self, event: Event) -> tuple[Effect, ...]:
        """Take one event. Raises IllegalEvent (nothing changed) or JournalError (likewise)."""
        before = self.state
        after, effects = self.machine.step(before, event)
        self._journal.append(self.session, self._number, event)
        self._number += 1
        self.state = after
        for watcher in self._watchers:  # before the voice is rendered: people look first
            watcher(Exchange(event, before, after, effects))
        if effects:
            if not self.speaking(event.at):
                self._speaks_from = event.at
            self._quiet_from = self._mouth.carry_out(effects, event.at)
        if before.live and not after.live:
            self._journal.close_session(self.session)
        return effects

    def cue(
        self, cue: str, at: float, source: Source, phrase: str = "", score: float = 1.0
    ) -> bool:
        """Give a cue; return False, journalled as refused, when it does not count now."""
        try:
            self.give(CueGiven(max(at, self.state.now), cue, source, phrase, score))
        except IllegalEvent:
            refusal = HearingRefused(max(at, self.state.now), "not possible now", phrase, score)
            self.give(refusal)
            return False
        return True

    def press(self, key: str, at: float, source: Source = Source.KEY) -> bool:
        """Give the cue this key stands for now; return False when it stands for none. The first
        key of two waits for the second."""
        if key in CHORDS:
            self._chord = key
            return True
        key, self._chord = self._chord + key, ""
        cue = self.keys().get(key)
        return cue is not None and self.cue(cue.id, at, source, cue.phrases[0])

    def talk(self, at: float, held: bool) -> None:
        """A pedal is held down to talk, told again and again meanwhile, or is let go."""
        self._pedal.talk(at, held)

    def held(self, at: float) -> bool:
        """Whether what is said from `at` on is said with the pedal held: it needs no address."""
        return self._pedal.held(at)

    def keys(self) -> dict[str, Cue]:
        """Return which key gives which cue now."""
        step = self.machine.plan.steps[self.machine.plan.step_index[self.state.step]]
        own = [cue.id for cue in (step.begin, step.done) if cue is not None]
        return keys_for(offered(self.machine, self.state), own)

    def hear(self, hearing: Hearing, at: float, source: Source = Source.VOICE) -> bool:
        """Take one judged utterance; return whether it was acted on."""
        if hearing.cue is None:
            self.give(
                HearingRefused(max(at, self.state.now), hearing.why, hearing.phrase, hearing.score)
            )
            return False
        return self.cue(hearing.cue, at, source, hearing.phrase, hearing.score)

    def clock(self, now: float) -> None:
        """Let time pass: each deadline up to `now` is given at its own moment."""
        while self.state.live:
            due = self.machine.next_deadline(self.state)
            again = self.machine.next_reminder(self.state)
            if again is not None and (due is None or again < due):
                due = again
            if due is None or due > now:
                return
            self.give(TimePassed(max(due, self.state.now)))

    @property
    def audible(self) -> bool:
        """Whether the loudspeaker is there; a mouth without a device needs none."""
        return bool(getattr(self._mouth, "present", True))

    def speaking(self, now: float) -> bool:
        """Whether our own voice, or its echo, is in the room."""
        if self._mouth.busy_until(now) > now:
            return True
        return now < self._quiet_from + ROOM_TAIL

    def vocabulary(self, now: float, *, typed: bool = False) -> Vocabulary:
        """Return what may be heard from `now` on. While we speak, only stops and alarms; while we
        do not, none that silences us. What is `typed` is no echo, and always counts.

        Whoever began before we did is heard out, if the address is said: we never say it.
        """
        plan = self.machine.plan
        cues = self.machine.cues_now(self.state)
        first = now < self._speaks_from
        speaking = not typed and not first and self.speaking(now)
        if speaking:
            cues = tuple(cue for cue in cues if cue.tier.always)
        heard = Vocabulary(
            cues=cues,
            address=plan.address,
            bare=(self.machine.answering(self.state) and not first) or self.held(now),
            stop_only=speaking,
            decoys=plan.decoys,
            pronunciations=plan.pronunciations,
            saying=self._mouth.saying(now) if speaking else (),
        )
        return heard if typed or first or speaking else in_silence(heard)
