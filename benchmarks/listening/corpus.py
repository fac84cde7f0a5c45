"""What is said in the bench, by whom, in which room: made from a seed, nothing stored."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import yaml

from benchmarks.listening import noises
from benchmarks.listening.voices import RATE, Talker, Wave, speak
from sidecue.assets import data_folder
from sidecue.hearing.port import Samples, Vocabulary
from sidecue.procedure.plan import Cue, Tier

LEAD = 0.6  # seconds of room before and after each utterance
NOISES = (*noises.MAKERS, "babble")
SNRS = (20, 15, 10, 5, 0)


@dataclass(frozen=True)
class Phrases:
    """All phrases: cues of the procedures by step, general cues, and what is no cue."""

    address: str
    steps: tuple[tuple[str, ...], ...]
    general: tuple[Cue, ...]
    decoys: tuple[str, ...]
    near: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    pronunciations: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Said:
    """One utterance: `text` said while `vocabulary` is active; `cue` is right, None for nothing."""

    kind: str  # cue, stop, near, foreign (another step's cue), sentence, bare
    text: str
    cue: str | None
    vocabulary: Vocabulary


@dataclass(frozen=True)
class Room:
    """A noise and how far the talker stands out of it (active-speech RMS over noise RMS, dB)."""

    noise: str
    snr: float


QUIET = Room("quiet", 40)


def _read(path: Path) -> Any:
    return yaml.safe_load(path.read_text("utf-8"))


def _cues_in(node: Any) -> Iterator[tuple[str, ...]]:
    """Every `cue: [phrases]` list below a node of a procedure file."""
    if isinstance(node, dict):
        for key, value in node.items():
            if key == "cue" and isinstance(value, list):
                yield tuple(str(phrase) for phrase in value)
            else:
                yield from _cues_in(value)
    elif isinstance(node, list):
        for entry in node:
            yield from _cues_in(entry)


@cache
def phrases() -> Phrases:
    """The procedures' own cues, and the bench's other talk."""
    flows = data_folder("flows")
    own = _read(Path(__file__).with_name("phrases.yaml"))
    shared = _read(flows / "cues.yaml")
    files = sorted((*(flows / "parts").glob("*.yaml"), *(flows / "procedures").glob("*.yaml")))
    steps = dict.fromkeys(found for file in files for found in _cues_in(_read(file)))
    general = [
        Cue(entry["cue"], tuple(entry["phrases"]), Tier(entry["tier"]), entry["means"])
        for entry in shared["cues"]
    ]
    return Phrases(
        address=shared["address"],
        steps=tuple(step for step in steps if not any("{" in phrase for phrase in step)),
        general=tuple(general),
        decoys=tuple(shared["decoys"]),
        near=tuple((active, heard) for active, heard in own["near"]),
        sentences=tuple(own["sentences"]),
        pronunciations=tuple(shared.get("pronunciations", {}).items()),
    )


def vocabulary(steps: list[tuple[str, ...]], others: list[str]) -> Vocabulary:
    """A moment: these steps' cues beside the general ones; `others` are decoys."""
    said = phrases()
    own = [Cue(step[0].replace(" ", "-"), step, Tier.ADVANCE, step[0]) for step in steps]
    active = {phrase for step in steps for phrase in step}
    return Vocabulary(
        cues=(*own, *said.general),
        address=said.address,
        decoys=tuple(phrase for phrase in others if phrase not in active),
        pronunciations=said.pronunciations,
    )


def draw(kind: str, rng: np.random.Generator, heldout: bool) -> Said:
    """Draw one utterance of a kind. Near pairs and sentences differ between the two halves."""
    said = phrases()
    half = [step for at, step in enumerate(said.steps) if (at % 2 == 0) == heldout] or said.steps
    step = half[rng.integers(len(half))]
    others = [phrase for other in said.steps for phrase in other] + list(said.decoys)
    now = vocabulary([step], others)
    if kind in ("cue", "bare"):
        cue = now.cues[0] if rng.random() < 0.6 else now.cues[rng.integers(len(now.cues))]
        phrase = cue.phrases[rng.integers(len(cue.phrases))]
        if kind == "cue":
            return Said(kind, f"{now.address} {phrase}", cue.id, now)
        return Said(kind, phrase, cue.id if cue.tier is Tier.STOP else None, now)
    if kind == "stop":
        stops = [cue for cue in now.cues if cue.tier is Tier.STOP]
        cue = stops[rng.integers(len(stops))]
        return Said(kind, cue.phrases[rng.integers(len(cue.phrases))], cue.id, now)
    if kind == "foreign":  # another step's cue, not even a decoy here
        other = half[rng.integers(len(half))]
        if other == step:
            return draw(kind, rng, heldout)
        spared = [phrase for phrase in others if phrase not in other]
        text = other[rng.integers(len(other))]
        return Said(kind, f"{now.address} {text}", None, vocabulary([step], spared))
    if kind == "near":
        pairs = said.near[int(heldout) :: 2]
        active, heard = pairs[rng.integers(len(pairs))]
        spared = [phrase for phrase in others if phrase != heard]
        close = replace(vocabulary([step, (active,)], spared), bare=bool(rng.random() < 0.3))
        return Said(kind, heard if close.bare else f"{now.address} {heard}", None, close)
    talk = said.sentences[int(heldout) :: 2]
    return Said("sentence", talk[rng.integers(len(talk))], None, now)


@cache
def _spoken(text: str, talker: Talker) -> Wave:
    return speak(text, talker)


@cache
def _crowd(heldout: bool) -> list[Wave]:
    from benchmarks.listening.voices import HELD_OUT, TRAINING

    talkers = HELD_OUT if heldout else TRAINING
    talk = phrases().sentences[int(heldout) :: 2]
    return [speak(text, talkers[at % len(talkers)]) for at, text in enumerate(talk)]


def noise(name: str, length: int, rng: np.random.Generator, heldout: bool) -> Wave:
    """Room noise of RMS 1, `length` samples."""
    if name == "babble":
        return noises.babble(length, rng, _crowd(heldout))
    return noises.MAKERS[name](length, rng)


def active_rms(wave: Wave) -> float:
    """RMS over the active frames: those within 16 dB of the mean level (P.56 in spirit)."""
    frames = wave[: len(wave) // 160 * 160].reshape(-1, 160)
    power = np.mean(frames**2, axis=1)
    return float(np.sqrt(power[power > power.mean() * 10**-1.6].mean()))


def in_room(
    text: str, talker: Talker, room: Room, rng: np.random.Generator, heldout: bool
) -> Samples:
    """The utterance in its room, int16, levelled as a headset would give it."""
    wave = _spoken(text, talker)
    lead = np.zeros(int(LEAD * RATE), dtype=np.float32)
    sound = np.concatenate([lead, wave, lead])
    if room.noise != "quiet":
        level = active_rms(wave) / 10 ** (room.snr / 20)
        sound = sound + level * noise(room.noise, len(sound), rng, heldout)
    gain = 0.35 / max(0.35, float(np.abs(sound).max())) * rng.uniform(0.4, 1.0)
    return np.rint(sound * gain * 32767).astype(np.int16)
