"""How soon the mouth answers: from a decision to the first sample of chime and of speech in the
loudspeaker, and from "stop" to silence; then the whole way, from the end of what was said in the
room."""

from __future__ import annotations

import tempfile
import time
from contextlib import closing
from pathlib import Path
from typing import Any

from rich.progress import track

from benchmarks.edges.chair import Chair, laid_out, spoken
from benchmarks.edges.figures import leave, spread
from benchmarks.edges.recorder import Recorder
from benchmarks.edges.sound_room import LOUDSPEAKER, SoundRoom
from sidecue.cli.setting import DEFAULT_PRACTICE, setting
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.preparing import likely_prompts
from sidecue.hearing.port import RATE
from sidecue.session.effects import Chime, ChimeKind, Effect, Say, Silence
from sidecue.session.machine import SessionMachine
from sidecue.speaking.cache import CachedVoice
from sidecue.speaking.loudspeaker import PortAudioLoudspeaker
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.voice import PyttsVoice

CASE = "composite-46-mo"
HEARD = Chime(ChimeKind.HEARD)
_CHIME = 0.056  # s: the chime, and what a resampler leaves of its end
ASKED = (  # questions that change nothing, so that they can be asked again and again
    *("okay-tray-how-long-left.espeak-ng-en-us-f2", "okay-tray-how-long-left.flite-rms"),
    *("okay-tray-please-repeat-yourself.espeak", "okay-tray-please-repeat-yourself.flite"),
)
GUARDED = ("okay-tray-skip-this-step.espeak-ng-en-gb-m3",)
_SPEECH = 500  # of int16: above the room's hiss
_PATIENCE = 9.0  # s


def main(count: int) -> None:
    """Measure each kind `count` times."""
    texts = list(likely_prompts(SessionMachine(setting(CASE, DEFAULT_PRACTICE).plan)))
    found: dict[str, Any] = {}
    with tempfile.TemporaryDirectory() as name, SoundRoom(Path(name)) as room:
        folder = Path(name) / "prompts"
        found |= _mouth(texts[: 2 * count], folder)
        with closing(CachedVoice(PyttsVoice(), folder)) as voice:
            found |= _whole_way(room, voice, max(4, count // 2))
    leave("answering", found)


def _mouth(texts: list[str], folder: Path) -> dict[str, Any]:
    found: dict[str, Any] = {}
    half = len(texts) // 2
    with closing(Recorder(LOUDSPEAKER)) as recorder:
        for temperature in ("cold", "warm"):
            voice = PyttsVoice()
            mouth = Mouth(CachedVoice(voice, folder), PortAudioLoudspeaker(LOUDSPEAKER))
            with closing(mouth):
                if temperature == "cold":
                    begun = time.perf_counter()
                    voice.warm()
                    found["the voice's start"] = spread([time.perf_counter() - begun])
                words, chimes, after = [], [], []
                for text in track(texts[:half], f"{temperature}: words"):
                    at = _give(mouth, (Say(text),))
                    if len(loud := recorder.loud(at)):  # else the loudspeaker was lost just then
                        words.append(float(loud[0]) - at)
                for text in track(texts[half:], f"{temperature}: chime and words"):
                    at = _give(mouth, (HEARD, Say(text)))
                    if len(loud := recorder.loud(at)):
                        chimes.append(float(loud[0]) - at)
                        after.append(float(loud[loud > loud[0] + _CHIME][0]) - at)
                key = f"{temperature} cache"
                found[f"decision to first syllable, {key}"] = spread(words)
                found[f"decision to chime, {key}"] = spread(chimes)
                found[f"decision to first syllable after a chime, {key}"] = spread(after)
                if temperature == "warm":
                    found["stop to silence"] = spread(_stops(mouth, recorder, texts[: half // 2]))
    return found


def _give(mouth: Mouth, effects: tuple[Effect, ...]) -> float:
    """Carry out, wait until it was heard; return the moment of the decision."""
    time.sleep(0.05)
    at = time.monotonic()
    mouth.carry_out(effects, at)
    while mouth.busy_until(0.0) > 0.0:
        time.sleep(0.02)
    time.sleep(0.25)
    return at


def _stops(mouth: Mouth, recorder: Recorder, texts: list[str]) -> list[float]:
    late = []
    for text in track(texts, "stop"):
        mouth.carry_out([Say(text), Say(texts[0])], time.monotonic())
        time.sleep(0.8)
        at = time.monotonic()
        mouth.carry_out([Silence()], at)
        time.sleep(0.4)
        loud = recorder.loud(at)
        late.append(float(loud[-1]) - at if len(loud) else 0.0)
    return late


class Asking:
    """Asks a live session again and again, each time once it is quiet, and times the answers."""

    def __init__(self, room: SoundRoom, chair: Chair, names: tuple[str, ...], count: int) -> None:
        self._room, self._chair, self._names, self._left = room, chair, names, count
        self._said = 0.0  # when the question was begun, 0 when none is open
        self._quiet = time.monotonic()
        self.late: list[float] = []
        self.missed = 0

    def over(self, ear: Recorder, mouth: Recorder) -> bool:
        """Look and go on; True once all were asked."""
        now = time.monotonic()
        conductor = self._chair.conductor
        if conductor.speaking(self._chair.clock.now()) or conductor.state.question:
            self._quiet = now
        if self._said:
            answer = mouth.loud(self._said, _SPEECH)
            if len(answer) and now - self._quiet > 0.6:
                question = ear.loud(self._said, _SPEECH)
                before = question[question < answer[0]]
                if len(before):
                    self.late.append(float(answer[0] - before[-1]))
                else:  # it spoke of something else
                    self.missed += 1
                self._said = 0.0
            elif now - self._said > _PATIENCE:
                self.missed, self._said = self.missed + 1, 0.0
        if not self._said and self._left and now - self._quiet > 0.8:
            words = spoken(self._names[self._left % len(self._names)])
            self._said, self._left = now, self._left - 1
            self._room.play(laid_out(len(words) / RATE + 0.4, (0.2, words)))
        return not self._left and not self._said


def _whole_way(room: SoundRoom, voice: CachedVoice, count: int) -> dict[str, Any]:
    """A live session is asked `count` times; from the end of the question to the answer."""
    found: dict[str, Any] = {}
    with closing(recogniser_of("auto", None)) as recogniser:
        for kind, names in (("first syllable", ASKED), ("chime", GUARDED)):
            chair = Chair.live(voice)
            asking = Asking(room, chair, names, count)
            with closing(Recorder("room")) as ear, closing(Recorder(LOUDSPEAKER)) as mouth:
                chair.run(recogniser, lambda _, a=asking, e=ear, m=mouth: a.over(e, m), lambda: 0)
            chair.loudspeaker.close()
            found[f"end of speech to {kind}"] = {
                **spread(asking.late),
                "not answered": asking.missed,
            }
    return found
