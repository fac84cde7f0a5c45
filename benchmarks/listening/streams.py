"""A stretch of a visit as the microphone hears it: utterances in a row, in one room's noise."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from benchmarks.listening import noises
from benchmarks.listening.echo import Echo, heard_through
from benchmarks.listening.levels import active_level, at_level, noise_gain
from benchmarks.listening.moments import Said
from benchmarks.listening.talk import sentence
from benchmarks.listening.voices import FRESH, HELD_OUT, RATE, Talker, Wave, speak
from sidecue.hearing.conditioning import as_int16
from sidecue.hearing.port import Block, Samples

TALKERS = (*HELD_OUT, *FRESH)
QUIET = "quiet"
QUIET_SNR = 40.0
NOISES = ("pink", "babble", "dry-suction", "wet-suction", "whine", "clatter", "cough")
SNRS = (20.0, 15.0, 10.0, 5.0, 0.0)
LEAD = 3.0  # seconds of noise alone at first, as a room has
GAP = (1.5, 2.5)  # seconds between utterances
LEVEL = (-30.0, -20.0)  # active-speech level, dBFS
TAIL = 800  # samples that `speak` leaves after the last sound
BLOCK = RATE // 20
_CROWD = 120  # sentences in the crowd's mouth


@dataclass(frozen=True)
class Condition:
    """Who speaks where. `snr` is in dB (see `levels.DEFINITION`)."""

    talker: Talker
    noise: str
    snr: float
    echo: Echo | None


@dataclass(frozen=True)
class Slot:
    """An utterance's place in the stream, in seconds; it owns what begins from `opens` on."""

    said: Said
    opens: float
    begins: float
    ends: float


@dataclass(frozen=True)
class Stream:
    """The microphone's samples and what is said in them."""

    samples: Samples
    slots: tuple[Slot, ...]

    @property
    def address(self) -> str:
        """What is said before a cue in it."""
        return self.slots[0].said.moment.vocabulary.address

    def slot_at(self, seconds: float) -> Slot:
        """Whose slot a moment falls into."""
        return [self.slots[0], *(slot for slot in self.slots if slot.opens <= seconds)][-1]

    def blocks(self) -> Iterator[Block]:
        """As a microphone gives them, 50 ms each."""
        return blocks_of(self.samples)

    def cut(self, slot: Slot, around: float = 0.25) -> Samples:
        """The utterance with its true boundaries, and `around` seconds more on both sides."""
        return self.samples[
            max(0, int((slot.begins - around) * RATE)) : int((slot.ends + around) * RATE)
        ]


def blocks_of(samples: Samples) -> Iterator[Block]:
    """Yield `samples` in blocks of 50 ms."""
    for at in range(0, len(samples), BLOCK):
        yield Block(at / RATE, samples[at : at + BLOCK])


@lru_cache(maxsize=512)
def spoken(text: str, talker: Talker) -> Wave:
    """`text` in the voice of `talker`."""
    return speak(text, talker)


def in_condition(
    said: Sequence[tuple[Said, Wave]],
    where: Condition,
    rng: np.random.Generator,
    others: Callable[[], list[Wave]] | None = None,
) -> Stream:
    """Lay utterances (dry, see `spoken`) in a row and put the room around them.

    `others` are who makes the babble, the held-out crowd unless told.
    """
    level = float(rng.uniform(*LEVEL))
    pieces: list[Wave] = [np.zeros(int(LEAD * RATE), dtype=np.float32)]
    slots, at = [], len(pieces[0])
    for utterance, dry in said:
        wave = at_level(heard_through(dry, where.echo), level)
        begins, ends = at / RATE, (at + len(dry) - TAIL) / RATE
        slots.append(Slot(utterance, begins - 0.5, begins, ends))
        gap = np.zeros(int(rng.uniform(*GAP) * RATE), dtype=np.float32)
        pieces += [wave, gap]
        at += len(wave) + len(gap)
    speech = np.concatenate(pieces)
    noise = room_noise(where.noise, len(speech), rng, others or crowd)
    mixed = speech + noise * noise_gain(10 ** (level / 20), noise, where.snr)
    return Stream(as_int16(limited(mixed)), tuple(slots))


def limited(wave: Wave) -> Wave:
    """`wave`, turned down if it would clip."""
    return np.asarray(wave * min(1.0, 0.95 / max(1e-6, float(np.abs(wave).max()))), np.float32)


def room_noise(
    name: str, length: int, rng: np.random.Generator, others: Callable[[], list[Wave]]
) -> Wave:
    """Noise of RMS 1; "quiet" is faint pink noise, for no room is silent."""
    if name == QUIET:
        return noises.pink(length, rng)
    if name == "babble":
        return noises.babble(length, rng, others())
    return noises.MAKERS[name](length, rng)


@lru_cache(maxsize=1)
def crowd() -> list[Wave]:
    """What the others in the room say: sentences in held-out voices, each at the same level."""
    rng = np.random.default_rng(4242)
    said = [(sentence(rng), TALKERS[at % len(TALKERS)]) for at in range(_CROWD)]
    waves = [speak(text, talker) for text, talker in said]
    return [np.asarray(wave * (0.1 / active_level(wave)), np.float32) for wave in waves]
