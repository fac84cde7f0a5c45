"""Speech with known phones, in training voices: `python -m benchmarks.phones.corpus`.

Two thirds of the texts are drawn without regard to the cues (common words in any order), so that
the head learns phones rather than phrases; the rest are the cues of the shipped visits, as said
and spoilt by a word. Voices, accents and the crowd of the babble are the training group's alone.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import soxr
from rich.progress import track

from benchmarks.listening import noises
from benchmarks.listening.echo import DISTANCES, Echo, can_echo, heard_through
from benchmarks.listening.levels import active_level, at_level, noise_gain
from benchmarks.listening.moments import moments
from benchmarks.listening.streams import limited
from benchmarks.listening.talk import _lexicon, one_phone_off
from benchmarks.listening.voices import RATE, Talker, Wave, speak
from benchmarks.phones.keeping import Item, keep
from sidecue.hearing.conditioning import as_int16
from sidecue.hearing.encoder import Encoder
from sidecue.hearing.lexicon import Lexicon
from sidecue.hearing.phones import PHONES
from sidecue.hearing.port import Samples

FOLDER = Path("build/phones")
TAKES = 3  # rooms that each spoken text is put into
_ECHOES = 60
_FLITE = ("kal16", "kal", "rms")
_PICO = ("en-US", "en-GB")
_ESPEAK = ("en-us", "en-us", "en-gb", "en-gb", "en-gb-x-gbclan", "en-us-nyc")
_TIMBRES = (*(f"m{n}" for n in range(1, 9)), *(f"f{n}" for n in range(1, 6)))
_SPOILERS = ("not", "no", "never", "almost", "the", "a", "is", "and", "still", "un", "half")


@dataclass(frozen=True)
class Text:
    """Words and their phones, one tuple for each word."""

    words: str
    phones: tuple[int, ...]


@cache
def _phrases() -> tuple[str, ...]:
    """Every cue of the shipped visits, with the address and without."""
    found: dict[str, None] = {}
    for moment in moments():
        for cue in moment.vocabulary.cues:
            for phrase in cue.phrases:
                found[phrase] = None
    return tuple(found)


@cache
def _lexicon_of_visits() -> Lexicon:
    return Lexicon({pair for moment in moments() for pair in moment.vocabulary.pronunciations})


@cache
def _common() -> tuple[str, ...]:
    return tuple(_lexicon())


def phones_of(words: str) -> tuple[int, ...] | None:
    """Indices of the phones of `words`; None when one is not in the lexicon."""
    found: list[int] = []
    for word in words.split():
        spelled = _lexicon_of_visits().spell(word)
        if not spelled:
            return None
        found += [PHONES.index(phone) for phone in spelled[0]]
    return tuple(found)


def draw_text(rng: np.random.Generator) -> Text:
    """Draw something to say."""
    while True:
        words = _draw(rng)
        phones = phones_of(words)
        if phones is not None and 2 <= len(phones) <= 45:
            return Text(words, phones)


def _draw(rng: np.random.Generator) -> str:
    def pick(choices: tuple[str, ...]) -> str:
        return choices[rng.integers(len(choices))]

    kind = rng.random()
    if kind < 0.62:
        return " ".join(pick(_common()) for _ in range(rng.integers(1, 7)))
    phrase = pick(_phrases())
    if kind > 0.87:
        words = phrase.split()
        what = rng.random()
        if what < 0.4:
            words.insert(rng.integers(len(words) + 1), pick(_SPOILERS))
        elif what < 0.6 and len(words) > 1:
            words.pop(rng.integers(len(words)))
        elif others := one_phone_off(phrase):
            words = pick(others).split()
        phrase = " ".join(words)
    address = moments()[0].vocabulary.address
    return f"{address} {phrase}" if rng.random() < 0.6 else phrase


def draw_talker(rng: np.random.Generator) -> Talker:
    """A voice of the training group, at any pace and pitch."""
    kind = rng.random()
    stretch = float(rng.uniform(0.8, 1.2))
    if kind < 0.3:
        return Talker("flite", _FLITE[rng.integers(3)], stretch, int(rng.integers(38, 90)))
    if kind < 0.5:
        return Talker("pico", _PICO[rng.integers(2)], stretch, int(rng.integers(30, 70)))
    if kind < 0.58:
        return Talker("festival", "ked_diphone", stretch)
    voice = _ESPEAK[rng.integers(len(_ESPEAK))] + "+" + _TIMBRES[rng.integers(len(_TIMBRES))]
    return Talker("espeak", voice, float(rng.uniform(0.85, 1.2)), int(rng.integers(25, 80)))


@cache
def training_crowd() -> list[Wave]:
    """What the others in the room say: common words in training voices, at one level."""
    rng = np.random.default_rng(77)
    said = [
        speak(" ".join(_common()[rng.integers(len(_common()))] for _ in range(8)), draw_talker(rng))
        for _ in range(80)
    ]
    return [np.asarray(wave * (0.1 / active_level(wave)), np.float32) for wave in said]


def in_some_room(
    dry: Wave, rng: np.random.Generator, sizes: tuple[float, float] = (0.84, 1.2)
) -> Samples:
    """`dry` at another size of voice, with an echo or none, in some noise."""
    size = float(rng.uniform(*sizes)) if rng.random() < 0.7 else 1.0
    wave = soxr.resample(dry, RATE, RATE * size).astype(np.float32) if size != 1.0 else dry
    if can_echo() and rng.random() < 0.35:
        echo = Echo(DISTANCES[rng.integers(3)], 500_000 + int(rng.integers(_ECHOES)))
        wave = heard_through(wave, echo)
    level = float(rng.uniform(-32, -18))
    edges = [np.zeros(int(rng.uniform(0.05, 0.7) * RATE), dtype=np.float32) for _ in range(2)]
    wave = np.concatenate([edges[0], at_level(wave, level), edges[1]])
    snr = float(rng.uniform(-2, 25)) if rng.random() < 0.85 else 45.0
    names = (*noises.MAKERS, "babble")
    name = "pink" if snr == 45.0 else names[rng.integers(len(names))]
    made = (
        noises.babble(len(wave), rng, training_crowd())
        if name == "babble"
        else noises.MAKERS[name](len(wave), rng)
    )
    return as_int16(limited(wave + made * noise_gain(10 ** (level / 20), made, snr)))


def items(count: int, seed: int) -> Iterator[Item]:
    """Yield (frames, phones) of `count` spoken texts, TAKES rooms each."""
    rng = np.random.default_rng([seed, 40])
    encoder = Encoder()
    for _ in range(count):
        text, talker = draw_text(rng), draw_talker(rng)
        dry = speak(text.words, talker)
        for _ in range(TAKES):
            yield encoder.frames(in_some_room(dry, rng)).astype(np.float16), text.phones
    for _ in range(count // 5):
        yield encoder.frames(_nothing_said(rng)).astype(np.float16), ()


def _nothing_said(rng: np.random.Generator) -> Samples:
    """Noise alone, in half of it others talking far off: blanks for the head to learn."""
    length = int(rng.uniform(0.3, 2.5) * RATE)
    names = tuple(noises.MAKERS)
    made = (
        noises.babble(length, rng, training_crowd())
        if rng.random() < 0.5
        else noises.MAKERS[names[rng.integers(len(names))]](length, rng)
    )
    return as_int16(np.asarray(made * 10 ** rng.uniform(-3, -1), np.float32))


def make(job: tuple[int, int, Path]) -> Path:
    """Make one file of a corpus, unless it is there."""
    count, seed, folder = job
    path = folder / f"frames-{seed:04}.npz"
    if path.exists():
        return path
    keep(items(count, seed), path)
    return path


def main() -> None:
    """Make the files that are not there yet."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--files", type=int, default=60)
    asked.add_argument("--first", type=int, default=0, help="number of the first file")
    asked.add_argument("--texts", type=int, default=100, help="spoken texts of one file")
    asked.add_argument("--jobs", type=int, default=2)
    asked.add_argument("--into", type=Path, default=FOLDER)
    options = asked.parse_args()
    options.into.mkdir(parents=True, exist_ok=True)
    moments()
    jobs = [(options.texts, seed, options.into) for seed in range(options.first, options.files)]
    with ProcessPoolExecutor(options.jobs) as pool:
        for _ in track(pool.map(make, jobs), "speaking", total=len(jobs)):
            pass


if __name__ == "__main__":
    main()
