"""Make the spoken session of the demo: a whole class II composite, with chatter and unsafe asks.

A synthetic person sits in the chair's room: it waits for the prompt to end, gives the cue that the
plan asks for, waits for timers, says it again in other words when it was not understood, and
interjects what `demo/interjections.yaml` lists. The session is really run while it is made, by
the shipped ears, machine and voice; what the person says becomes `demo/session.flac`.

Needs flite and espeak-ng (Debian's packages).

    .venv/bin/python audio_fixtures/make_demo.py
"""

from __future__ import annotations

import subprocess
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr
import yaml
from rich.console import Console

from sidecue.cli.setting import DEFAULT_CASE, DEFAULT_PRACTICE, setting
from sidecue.cli.telling import Teller
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.conducting import ROOM_TAIL, Conductor, Exchange
from sidecue.conductor.running import run_recording
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import RATE, Block
from sidecue.procedure.plan import Cue, Plan
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.events import CueGiven, HearingRefused
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.voice import PyttsVoice

FOLDER = Path(__file__).parent / "demo"
BLOCK = 512  # samples; the file source's own
STIRRED = 0.12  # share of samples off zero by one: never digitally silent, and it packs well
LEVEL_DBFS = -23.0  # active speech
ANSWERS_AFTER = 0.5  # seconds from a prompt's end to the answer
PATIENCE = 1.3  # seconds without a chime after which a person says it again
TRIES = 4

Samples = npt.NDArray[np.int16]


@dataclass(frozen=True, slots=True)
class Interjection:
    """Something said at a step beside its cues; `cue` is what it must be understood as, or None
    when it must come to nothing. `when` is "before" or "under-way"."""

    step: str
    say: str
    voice: str
    cue: str | None = None
    when: str = "before"
    wait: float = 0.0


def main() -> None:
    """Write demo/session.flac and demo/transcript.yaml."""
    script = yaml.safe_load((FOLDER / "interjections.yaml").read_text("utf-8"))
    plan = setting(DEFAULT_CASE, DEFAULT_PRACTICE).plan
    asked = [Interjection(**each) for each in script["interjections"]]
    unknown = {each.step for each in asked} - set(plan.step_index)
    if unknown:
        raise SystemExit(f"no such step in the plan: {', '.join(sorted(unknown))}")
    journal = MemoryJournal()
    session = journal.open_session(plan, "2026-01-01T09:00:00+00:00")
    mouth = Mouth(CachedVoice(PyttsVoice()), MuteLoudspeaker())
    conductor = Conductor(SessionMachine(plan), journal, session, mouth, [Teller(Console())])
    person = Person(plan, conductor, mouth, script["assistant"], asked)
    recogniser = recogniser_of("auto", None)
    conductor.watch(person.notice)
    conductor.start(0.0)
    run_recording(conductor, Ears(recogniser, conductor.vocabulary).listen(person), lambda _: None)
    person.write()
    mouth.close()


class Person:
    """An audio source that listens back: what it says depends on the session it hears."""

    def __init__(
        self, plan: Plan, conductor: Conductor, mouth: Mouth, voice: str, asked: list[Interjection]
    ) -> None:
        self._plan, self._conductor, self._mouth = plan, conductor, mouth
        self._voice, self._asked = voice, asked
        self._noise = np.random.default_rng(7)
        self._said: list[Samples] = []
        self._now = 0.0
        self._lines: list[dict[str, object]] = []
        self._line: dict[str, object] = {}
        self._answer: Exchange | None = None

    def notice(self, exchange: Exchange) -> None:
        """See what came of the last utterance."""
        event = exchange.event
        if not isinstance(event, CueGiven | HearingRefused):
            return
        self._answer = exchange
        if isinstance(event, CueGiven):
            self._line["came"] = event.cue
            if event.cue != self._line["meant"]:
                raise SystemExit(f"{event.at:.1f} s: {self._line['say']!r} came as {event.cue}")

    def blocks(self) -> Iterator[Block]:
        """Speak the whole session."""
        tries = 0
        while self._conductor.state.live:
            yield from self._wait_for_quiet()
            state = self._conductor.state
            part = "under-way" if state.under_way else "before"
            here = [each for each in self._asked if (each.step, each.when) == (state.step, part)]
            if here:
                self._asked.remove(here[0])
                yield from self._quiet_until(self._now + here[0].wait)
                yield from self._speak(here[0].say, here[0].voice, here[0].cue)
                continue
            yield from self._wait_for_timers(state)
            if self._conductor.state is not state:
                continue  # something rang meanwhile
            due = self._due(state)
            phrase = due.phrases[tries % len(due.phrases)]
            yield from self._speak(f"{self._plan.address} {phrase}", self._voice, due.id)
            understood = self._answer is not None and isinstance(self._answer.event, CueGiven)
            tries = 0 if understood else tries + 1
            if tries >= TRIES:
                raise SystemExit(f"{due.id} was not understood in {TRIES} tries")
        if self._asked:
            raise SystemExit(f"never reached: {self._asked[0]}")

    def close(self) -> None:
        """Nothing to release."""

    def write(self) -> None:
        """Write the sound and what was said."""
        sound = np.concatenate(self._said)
        path = FOLDER / "session.flac"
        soundfile.write(path, sound, RATE, subtype="PCM_16", compression_level=1.0)
        with (FOLDER / "transcript.yaml").open("w", encoding="utf-8") as out:
            out.write("# Said in session.flac, and what must come of it. Made, not edited.\n")
            yaml.safe_dump({"utterances": self._lines}, out, sort_keys=False)
        again = sum(line["came"] is None and line["meant"] is not None for line in self._lines)
        print(f"{self._now:.0f} s, {len(self._lines)} utterances, {again} said again")

    def _due(self, state: SessionState) -> Cue:
        """The cue that the session waits for."""
        step = self._plan.steps[self._plan.step_index[state.step]]
        if state.question is not None:
            return next(cue for cue in self._plan.cues if cue.id == "confirm")
        return step.done if step.begin is None or state.under_way else step.begin

    def _speak(self, words: str, voice: str, meant: str | None) -> Iterator[Block]:
        line: dict[str, object] = {"at": round(self._now, 2), "say": words, "voice": voice}
        line |= {"meant": meant, "came": None}
        self._lines.append(line)
        self._answer, self._line = None, line
        yield from self._sound(spoken(words, voice))
        deadline = self._now + PATIENCE
        while self._answer is None and self._now < deadline and self._conductor.state.live:
            yield from self._sound(np.zeros(BLOCK))

    def _wait_for_quiet(self) -> Iterator[Block]:
        while (until := self._mouth.busy_until(self._now)) > self._now:
            yield from self._quiet_until(until + ROOM_TAIL + ANSWERS_AFTER)

    def _wait_for_timers(self, state: SessionState) -> Iterator[Block]:
        """Wait as a careful assistant does: until nothing forbids what comes next."""
        step = self._plan.steps[self._plan.step_index[state.step]]
        ends = [
            timer.started + timer.least
            for timer in state.timers
            if timer.least is not None and (timer.step == step.id or timer.spec.name in step.stops)
        ]
        yield from self._quiet_until(max(ends, default=0.0) - 0.5)

    def _quiet_until(self, moment: float) -> Iterator[Block]:
        while self._now < moment and self._conductor.state.live:
            yield from self._sound(np.zeros(BLOCK))

    def _sound(self, sound: npt.NDArray[np.float64]) -> Iterator[Block]:
        """Yield `sound` in whole blocks, over the floor of the room."""
        padded = np.concatenate([sound, np.zeros(-len(sound) % BLOCK)])
        stirred = self._noise.random(len(padded)) < STIRRED
        floor = stirred * self._noise.choice([-1.0, 1.0], len(padded))
        samples = np.clip(np.round(padded * 32768 + floor), -32768, 32767).astype(np.int16)
        for begin in range(0, len(samples), BLOCK):
            block = Block(self._now, samples[begin : begin + BLOCK])
            self._said.append(block.samples)
            self._now += BLOCK / RATE
            yield block


def spoken(words: str, voice: str) -> npt.NDArray[np.float64]:
    """Return `words` spoken by `voice` (`flite:rms`, `espeak-ng:en-gb+f2`), 16 kHz, levelled."""
    engine, _, name = voice.partition(":")
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "speech.wav"
        command = (
            ["flite", "-voice", name, "-t", words, "-o", str(wav)]
            if engine == "flite"
            else ["espeak-ng", "-v", name, "-s", "150", "-w", str(wav), words]
        )
        subprocess.run(command, check=True, capture_output=True)
        samples, rate = soundfile.read(wav)
    sound = np.asarray(soxr.resample(samples, rate, RATE), dtype=np.float64)
    loud = np.flatnonzero(np.abs(sound) > 0.01)
    sound = sound[loud[0] : loud[-1] + 1] if len(loud) else sound
    return sound * (10 ** (LEVEL_DBFS / 20) / np.sqrt(np.mean(sound**2)))


if __name__ == "__main__":
    main()
