"""Accelerated hours in which nobody addresses the tool: every action is a false one.

A piece is a tenth of an hour. Each minute has its own moment of a visit, level and sound. Nothing
is heard twice in the same alignment: what is mixed is drawn anew from the seed and the piece.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import soxr

from benchmarks.listening import noises
from benchmarks.listening.echo import DISTANCES, Echo, can_echo, heard_through
from benchmarks.listening.levels import at_level, rms
from benchmarks.listening.moments import Moment, open_moment
from benchmarks.listening.rooms import recogniser
from benchmarks.listening.streams import TALKERS, blocks_of, crowd, limited
from benchmarks.listening.talk import sentence
from benchmarks.listening.through_ears import listen
from benchmarks.listening.voices import RATE, Talker, Wave, speak
from sidecue.hearing.conditioning import as_int16
from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.port import Samples

KINDS = ("babble", "conversation", "non-speech")
MINUTES = 6
_MINUTE = 60 * RATE
SOUNDS = ("clatter", "cough", "whine", "wet-suction", "dry-suction", "tones")


@dataclass(frozen=True)
class Company:
    """Who talks in the room: one by one, and all at once."""

    talkers: tuple[Talker, ...]
    crowd: Callable[[], list[Wave]]


HELD_OUT = Company(TALKERS, crowd)


def piece(
    kind: str, number: int, seed: int, company: Company = HELD_OUT
) -> tuple[list[Moment], Samples]:
    """The moments, one a minute, and the sound of a tenth of an hour of `kind`."""
    rng = np.random.default_rng([seed, 2 + KINDS.index(kind), number])
    moments = [open_moment(rng) for _ in range(MINUTES)]
    made = _MADE[kind]
    minutes = [made(rng, moments[at], number + at, company) for at in range(MINUTES)]
    wave = np.concatenate(minutes)
    faint = 10 ** (-62 / 20) * noises.pink(len(wave), rng)
    return moments, as_int16(limited(wave + faint))


def rows(kind: str, number: int, seed: int) -> Iterator[dict[str, Any]]:
    """Yield one row: what was acted on in a tenth of an hour of `kind`."""
    moments, samples = piece(kind, number, seed)
    before = resident()
    heard = listen(
        recogniser(),
        lambda at: moments[min(MINUTES - 1, int(at // 60))].vocabulary,
        blocks_of(samples),
    )
    acted = [noticed.row() for noticed in heard.noticed if noticed.hearing.cue is not None]
    yield {
        "part": kind,
        "piece": number,
        "seconds": round(heard.seconds, 2),
        "judged": len(heard.noticed),
        "acted": [{**row, "sound": _sound(kind, number, row["started"])} for row in acted],
        "processor": round(heard.processor, 2),
        "process": os.getpid(),
        "resident before": before,
        "resident after": resident(),
    }


def resident() -> float:
    """Memory of this process, MB."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return round(pages * os.sysconf("SC_PAGE_SIZE") / 1e6, 2)


def _sound(kind: str, number: int, started: float) -> str:
    return SOUNDS[(number + int(started // 60)) % len(SOUNDS)] if kind == "non-speech" else kind


def _babble(rng: np.random.Generator, _: Moment, __: int, company: Company) -> Wave:
    """Three to six talkers at once, some way off, each at his own speed and level."""
    pool = company.crowd()
    chosen = [pool[at] for at in rng.choice(len(pool), 40, replace=False)]
    speeds = rng.uniform(0.9, 1.1, len(chosen))
    talk = [
        np.asarray(soxr.resample(wave, RATE, RATE * speed, quality="LQ"), np.float32)
        for wave, speed in zip(chosen, speeds, strict=True)
    ]
    wave = noises.babble(_MINUTE, rng, talk, talkers=int(rng.integers(3, 7)))
    return np.asarray(wave * 10 ** (rng.uniform(-40, -24) / 20), np.float32)


def _conversation(rng: np.random.Generator, moment: Moment, _: int, company: Company) -> Wave:
    """Two talkers in turn: one near, as if wearing the headset, one across the room."""
    voices = [company.talkers[at] for at in rng.choice(len(company.talkers), 2, replace=False)]
    echo = Echo(DISTANCES[-1], int(rng.integers(1 << 20))) if can_echo() else None
    levels = rng.uniform(-28, -20), rng.uniform(-40, -30)
    wave = np.zeros(_MINUTE, np.float32)
    paths = grammar_of(moment.vocabulary)
    at = int(rng.uniform(0, 1) * RATE)
    while at < _MINUTE - RATE:
        who = int(rng.integers(2))
        text = sentence(rng)
        if (path := paths.find(text)) is not None and path.cue is not None:
            continue
        turn = heard_through(speak(text, voices[who]), echo if who else None)
        turn = at_level(turn, levels[who])[: _MINUTE - at]
        wave[at : at + len(turn)] += turn
        at += len(turn) + int(rng.uniform(0.15, 1.6) * RATE)
    return wave


def _non_speech(rng: np.random.Generator, _: Moment, number: int, __: Company) -> Wave:
    """One kind of sound a minute, on for two to eight seconds, off for as long."""
    name = SOUNDS[number % len(SOUNDS)]
    maker = noises.tones if name == "tones" else noises.MAKERS[name]
    wave = np.zeros(_MINUTE, np.float32)
    at = 0
    while at < _MINUTE:
        lasts = min(int(rng.uniform(2, 8) * RATE), _MINUTE - at)
        sound = maker(max(lasts, RATE), rng)[:lasts]
        edge = min(800, lasts // 2)
        sound[:edge] *= np.linspace(0, 1, edge, dtype=np.float32)
        sound[lasts - edge :] *= np.linspace(1, 0, edge, dtype=np.float32)
        level = 10 ** (rng.uniform(-38, -18) / 20)
        wave[at : at + lasts] = sound * level / max(1e-6, rms(sound))
        at += lasts + int(rng.uniform(2, 8) * RATE)
    return wave


_MADE = {"babble": _babble, "conversation": _conversation, "non-speech": _non_speech}
