"""Speech of people, beside the synthetic: `python -m benchmarks.phones.people`.

The recordings come with packages of Debian (`PACKAGES`), which are fetched and unpacked into a
folder and go no further. What is said in them is written down by the decoder of the small model
whose encoder we use; a recording counts when that is sure of every word and the lexicon knows
them all. The recordings in `UNSEEN` are never trained on: they come with transcripts of their own
and tell how many phones are misheard of people the head has not met.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soxr
from rich.progress import track

from benchmarks.listening.voices import RATE, Wave
from benchmarks.phones.corpus import FOLDER, Text, in_some_room, phones_of
from benchmarks.phones.keeping import Item, keep
from benchmarks.phones.transcribing import Decoder
from sidecue.hearing.conditioning import as_int16
from sidecue.hearing.encoder import Encoder

PACKAGES = ("asterisk-core-sounds-en-g722", "hedgewars-data")
UNSEEN = ("pocketsphinx-testdata",)
ROOMS = 8  # that each recording is put into
SURE = -0.2  # mean log probability of a token, at least
LONGEST = 6.0  # seconds
_NOT_ENGLISH = re.compile(r"voices/(Russian|Robot|[^/]*_)")


@dataclass(frozen=True)
class Said:
    """A recording (mono 16 kHz, peak 0.5) and what is said in it."""

    name: str
    wave: Wave
    text: Text


def unpacked(folder: Path, packages: tuple[str, ...]) -> Path:
    """Fetch the packages and unpack them below `folder`."""
    for package in packages:
        target = folder / package
        if not target.exists():
            folder.mkdir(parents=True, exist_ok=True)
            subprocess.run(["apt-get", "download", "-qq", package], cwd=folder, check=True)
            (deb,) = folder.glob(f"{package}_*.deb")
            subprocess.run(["dpkg", "-x", str(deb), str(target)], check=True)
    return folder


def recording(path: Path) -> Wave:
    """Read a file of any of the formats, mono 16 kHz, peak 0.5."""
    import av

    if path.suffix == ".raw":
        wave, rate = np.fromfile(path, np.int16).astype(np.float32), RATE
    else:
        with av.open(str(path), format="g722" if path.suffix == ".g722" else None) as file:
            frames = [frame.to_ndarray() for frame in file.decode(audio=0)]
            rate, channels = file.streams.audio[0].rate, file.streams.audio[0].channels
        planar = frames[0].shape[0] == channels
        joined = np.concatenate([f if planar else f.reshape(-1, channels).T for f in frames], 1)
        wave = joined.astype(np.float32).mean(axis=0)
    if rate != RATE:
        wave = soxr.resample(wave, rate, RATE)
    return np.asarray(wave * (0.5 / max(1e-6, float(np.abs(wave).max()))), np.float32)


def transcribed(folder: Path) -> Iterator[Said]:
    """Every recording of `folder` that the decoder is sure about."""
    decoder, encoder = Decoder(), Encoder()
    paths = [p for p in sorted(folder.rglob("*")) if p.suffix in {".g722", ".ogg"}]
    for path in track(paths, "writing down"):
        if _NOT_ENGLISH.search(str(path)) or "/silence/" in str(path):
            continue
        wave = recording(path)
        if not 0.25 * RATE < len(wave) < LONGEST * RATE:
            continue
        words, sure = decoder.write(encoder.frames(as_int16(wave)))
        phones = phones_of(words) if sure >= SURE else None
        if phones is not None and len(phones) >= 2:
            yield Said(path.name, wave, Text(words, phones))


def told(folder: Path) -> Iterator[Said]:
    """The recordings of people never trained on, with the words that were written beside them."""
    data = folder / "pocketsphinx-testdata/usr/share/pocketsphinx/test/data"
    written: dict[Path, str] = {
        data / "goforward.raw": "go forward ten meters",
        data / "something.raw": "go somewhere and do something",
    }
    for name in ("librivox/transcription", "cards/cards.transcription"):
        for line in (data / name).read_text("utf-8").splitlines():
            if found := re.match(r"(?:<s>)?\s*(.*?)\s*(?:</s>)?\s*\((\S+)\)", line):
                written[(data / name).parent / f"{found[2]}.wav"] = found[1].lower()
    for path, words in written.items():
        phones = phones_of(words)
        if path.is_file() and phones:
            yield Said(path.name, recording(path), Text(words, phones))


def items(said: list[Said], seed: int) -> Iterator[Item]:
    """Yield (frames, phones) of each recording in ROOMS rooms."""
    rng = np.random.default_rng([seed, 41])
    encoder = Encoder()
    for each in track(said, "rooms"):
        for _ in range(ROOMS):
            room = in_some_room(each.wave, rng, sizes=(0.9, 1.12))
            yield encoder.frames(room).astype(np.float16), each.text.phones


def main() -> None:
    """Make one file of the corpus, and one of people to test on."""
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("--into", type=Path, default=FOLDER)
    asked.add_argument("--packages", type=Path, default=Path("build/people"))
    options = asked.parse_args()
    options.into.mkdir(parents=True, exist_ok=True)
    folder = unpacked(options.packages, PACKAGES)
    said = [each for package in PACKAGES for each in transcribed(folder / package)]
    keep(items(said, 7), options.into / "people.npz")
    unseen = list(told(unpacked(options.packages, UNSEEN)))
    encoder = Encoder()
    keep(
        ((encoder.frames(as_int16(s.wave)).astype(np.float16), s.text.phones) for s in unseen),
        options.into / "unseen-people.npz",
    )
    minutes = sum(len(each.wave) for each in said) / RATE / 60
    print(
        json.dumps({"recordings": len(said), "minutes": round(minutes, 1), "unseen": len(unseen)})
    )


if __name__ == "__main__":
    main()
