"""The tool's own voice in its own microphone: it must be no cue, and "stop" over it must be heard.

On the samples' clock, through the ears' public port and the conductor's own idea of what may be
heard: each prompt is said in a state in which it is said in a visit, and comes back into the
microphone later and fainter, in a room's hiss. Where people speak over it, both are equally loud
at 0 dB.
"""

from __future__ import annotations

import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from rich.progress import Progress

from benchmarks.edges.chair import OPENED, spoken
from benchmarks.edges.figures import leave, spread
from sidecue.assets import data_folder
from sidecue.cli.setting import DEFAULT_PRACTICE, setting
from sidecue.conductor.assembly import recogniser_of
from sidecue.conductor.conducting import Conductor
from sidecue.conductor.preparing import foreseen
from sidecue.hearing.conditioning import to_mono_16k
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import RATE, Block, Recogniser, Samples
from sidecue.procedure.plan import Plan, Tier
from sidecue.record.memory_journal import MemoryJournal
from sidecue.session.effects import Say
from sidecue.session.machine import SessionMachine
from sidecue.session.state import SessionState
from sidecue.speaking.cache import CachedVoice, default_folder
from sidecue.speaking.mouth import Mouth
from sidecue.speaking.mute import MuteLoudspeaker
from sidecue.speaking.voice import PyttsVoice

GAINS = (0.0, -6.0, -12.0, -20.0)  # dB, loudspeaker to microphone
DELAYS = (0.02, 0.08, 0.15, 0.25)  # s
STOPS = ("stop-talking", "quiet-please", "hold-everything", "pause-procedure")
HISS = -62.0  # dBFS
_BEFORE, _AFTER = 0.8, 1.2  # s of hiss around a prompt
_BLOCK = RATE // 20
_OVER = 0.4  # s after a prompt's beginning that somebody speaks over it
_AS_LOUD = 2000.0  # RMS of a stop word while it sounds, int16


@dataclass
class Trial:
    """One prompt said in one state, echoed, perhaps with somebody speaking over it."""

    plan: Plan
    state: SessionState
    text: str
    gain: float
    delay: float
    over: str = ""
    cues: list[str] = field(default_factory=list)
    took: float = 0.0  # s from a hearing to the mouth's having obeyed
    cut: bool = False


def prompts() -> Iterator[tuple[Plan, str, SessionState]]:
    """Yield every sentence that a straight visit of any shipped case, or one cue off it, may say,
    each once."""
    known: set[str] = set()
    for path in sorted((data_folder("flows") / "cases").glob("*.yaml")):
        plan = setting(path.stem, DEFAULT_PRACTICE).plan
        for text, state in foreseen(SessionMachine(plan)):
            if text not in known:
                known.add(text)
                yield plan, text, state


def cue_words(plan: Plan, tiers: tuple[Tier, ...]) -> frozenset[str]:
    """All words of all cues of these tiers."""
    steps = [cue for step in plan.steps for cue in (step.begin, step.done) if cue is not None]
    others = [each.cue for each in (*plan.happenings, *plan.emergencies)]
    slots = [value.cue for slot in plan.slots for value in slot.values]
    cues = (*plan.cues, *plan.skip_reasons, *steps, *others, *slots)
    return frozenset(
        word
        for cue in cues
        if cue.tier in tiers
        for phrase in cue.phrases
        for word in phrase.split()
    )


def trials(every: int, seed: int) -> list[Trial]:
    """All that are run. Every prompt that holds a cue's word is heard once, at a gain and a delay
    that take turns; one with a word of the stop tier at every gain, with two delays each."""
    made: list[Trial] = []
    draw = np.random.default_rng(seed)
    for number, (plan, text, state) in enumerate(prompts()):
        words = set("".join(c if c.isalpha() else " " for c in text.lower()).split())
        if number % every or not words & cue_words(plan, tuple(Tier)):
            continue
        if words & cue_words(plan, (Tier.STOP, Tier.ALARM)):
            pairs = [(g, d) for g in GAINS for d in draw.choice(DELAYS, 2, replace=False)]
        else:
            turn = len(made)
            pairs = [(GAINS[turn % 4], DELAYS[turn // 4 % 4])]
        made += [Trial(plan, state, text, g, float(d)) for g, d in pairs]
    long = [each for each in made if len(each.text.split()) >= 6]
    for number in range(max(4, 160 // every)):
        base = long[int(draw.integers(len(long)))]
        gain, delay = GAINS[number % 4], DELAYS[int(draw.integers(4))]
        made.append(Trial(base.plan, base.state, base.text, gain, delay, STOPS[number // 4 % 4]))
    return made


def run(
    trial: Trial, recogniser: Recogniser, voice: CachedVoice, draw: np.random.Generator
) -> None:
    """Say, listen, note every cue in `trial`."""
    mouth = Mouth(voice, MuteLoudspeaker())
    journal = MemoryJournal()
    name = journal.open_session(trial.plan, OPENED)
    conductor = Conductor(SessionMachine(trial.plan), journal, name, mouth)
    conductor.state = trial.state
    begun = trial.state.now
    says = begun + _BEFORE
    echo = to_mono_16k(voice.render(trial.text).samples, voice.render(trial.text).rate)
    lasts = len(echo) / RATE
    track = draw.standard_normal(round((_BEFORE + lasts + _AFTER) * RATE)) * _linear(HISS) * 32768
    _lay(track, echo * _linear(trial.gain), _BEFORE + trial.delay)
    if trial.over:
        voices = _voices(trial.over)
        words = voices[int(draw.integers(len(voices)))].astype(float)
        words *= _AS_LOUD / _rms(words)
        track = np.concatenate([track, draw.standard_normal(RATE) * _linear(HISS) * 32768])
        _lay(track, words * (_rms(echo) / _AS_LOUD), _BEFORE + _OVER)
    samples = np.clip(np.rint(track), -32768, 32767).astype(np.int16)
    ears, said = Ears(recogniser, conductor.vocabulary), False
    for first in range(0, len(samples), _BLOCK):
        at = begun + first / RATE
        if not said and at >= says:
            mouth.carry_out([Say(trial.text)], says)
            said = True
        heard = ears.take(Block(at, samples[first : first + _BLOCK]))
        for hearing in heard.hearings:
            if hearing.cue is None:
                continue
            trial.cues.append(hearing.cue)
            playing = mouth.busy_until(heard.now) > heard.now
            started = time.perf_counter()
            conductor.hear(hearing, heard.now)
            trial.took = time.perf_counter() - started
            trial.cut = playing
            if trial.over:
                return


def _voices(phrase: str) -> list[Samples]:
    folder = data_folder("audio_fixtures") / "accept"
    return [spoken(path.stem) for path in sorted(folder.glob(f"{phrase}.*.flac"))]


def _lay(track: np.ndarray, sound: np.ndarray, at: float) -> None:
    first = round(at * RATE)
    sound = sound[: len(track) - first]
    track[first : first + len(sound)] += sound


def _linear(decibels: float) -> float:
    return float(10 ** (decibels / 20))


def _rms(samples: np.ndarray) -> float:
    """Of the louder half, so that pauses do not count."""
    frames = samples[: len(samples) // 320 * 320].astype(float).reshape(-1, 320)
    power = np.sort(np.mean(frames**2, axis=1))[len(frames) // 2 :]
    return float(np.sqrt(power.mean()))


def main(every: int, seed: int) -> None:
    """Run all, leave the figures."""
    draw = np.random.default_rng(seed)
    made = trials(every, seed)
    with (
        closing(recogniser_of("auto", None)) as recogniser,
        closing(CachedVoice(PyttsVoice(), default_folder())) as voice,
        Progress() as progress,
    ):
        for trial in progress.track(made, description="prompts"):
            run(trial, recogniser, voice, draw)
    alone = [each for each in made if not each.over]
    found: dict[str, Any] = {
        "seed": seed,
        "prompts": len({each.text for each in alone}),
        "played into the microphone": len(alone),
        "cues from our own voice": sum(bool(each.cues) for each in alone),
        "which": [(t.text, t.gain, t.delay, t.cues) for t in alone if t.cues],
    }
    obeyed: list[float] = []
    for gain in GAINS:
        over = [each for each in made if each.over and each.gain == gain]
        wanted = {"stop-talking": "quiet", "quiet-please": "quiet"}
        right = [each for each in over if each.cues == [wanted.get(each.over, "pause")]]
        obeyed += [each.took for each in right]
        found[f"stop or pause over our voice at {gain:g} dB"] = {
            "said": len(over),
            "heard": len(right),
            "heard while we still spoke": sum(each.cut for each in right),
            "taken for another cue": sum(bool(each.cues) for each in over) - len(right),
        }
    found["from recognition to the mouth's being told"] = spread(obeyed)
    leave("own-voice", found)
