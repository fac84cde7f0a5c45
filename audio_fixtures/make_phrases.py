"""Make the spoken fixtures: the phrases, what must be refused, and the manifest of both.

Needs flite and espeak-ng (Debian's packages of those names), and this package installed:

    python audio_fixtures/make_phrases.py          # makes what is missing, drops what is stale
    python audio_fixtures/make_phrases.py --all    # makes everything again

`accept/`: every phrase of every cue of the visits in situations.VISITS, by two voices each.
`reject/`: near misses and talk (phrases.yaml), cues said without the address phrase or at the
wrong moment, noises, and the tool's own prompts in its own voice. `degenerate/`: files that are
no proper recording. What must happen with each file stands in manifest.yaml.

Every voice is a synthesiser's: real voices in a real room are harder. The same phrase by the
same voice is the same file again; speed and pitch follow from both, by a hash.
"""

from __future__ import annotations

import argparse
import hashlib
import json
import subprocess
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from itertools import count
from pathlib import Path

import degenerate
import manifest
import noises
import numpy as np
import numpy.typing as npt
import plans
import soundfile
import soxr
import yaml
from situations import Situation

from sidecue.hearing.port import RATE
from sidecue.speaking.voice import PyttsVoice

HERE = Path(__file__).parent
MANIFEST = manifest.PATH
FLOOR_DBFS = -70.0  # RMS of the room's noise in every file
LEVEL_DBFS = -33.0  # RMS of the speech, its pauses left out
MARGIN = 0.08  # s of room before and after the words
STEP = 16  # samples are multiples of it: far below the floor, and FLAC packs it tighter

# synthesiser and voice, alternating so that two voices of a phrase are of different kinds
VOICES = (
    "flite slt", "espeak-ng en-us", "flite rms", "espeak-ng en-us+f2", "flite awb",
    "espeak-ng en-us+m1", "flite kal16", "espeak-ng en-us+m3", "espeak-ng en-gb-x-rp+m1",
    "espeak-ng en-gb+m3",
)  # fmt: skip
OWN_VOICE = "sidecue"  # the tool's own

Wave = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Wanted:
    """One file: what is in it, when it is said, and what must happen."""

    folder: str
    phrase: str  # what is said, or the kind of noise
    must: plans.Must
    at: Situation
    voice: str = ""  # chosen when empty

    def path(self) -> str:
        """Its path below this folder: the words, then the voice."""
        name = "-".join("".join(c for c in self.phrase.lower() if c.isalnum() or c == " ").split())
        flag = "speaking" if self.at.speaking else ""
        parts = [name[:60], self.voice.replace(" ", "-").replace("+", "-"), flag]
        return f"{self.folder}/{'.'.join(part for part in parts if part)}.flac"


def wanted() -> Iterator[Wanted]:
    """Everything that belongs into accept/ and reject/, in the manifest's order."""
    for phrase, must, at in plans.accepted():
        yield Wanted("accept", phrase, must, at)
    texts = yaml.safe_load((HERE / "phrases.yaml").read_text("utf-8"))
    yield from _talk(texts["unrelated"])
    for phrase, must, at in plans.near_misses(texts["near-misses"]):
        for _ in range(2):
            yield Wanted("reject/near_miss", phrase, must, at)
    for phrase, must, at in plans.misplaced():
        yield Wanted("reject/near_miss", phrase, must, at)
    for kind in noises.KINDS:
        for number in range(8):
            noise, must = f"{kind} {number}", plans.refused("a noise, no speech")
            yield Wanted("reject/noise", noise, must, plans.places_for(noise)[0], "noise")
    for phrase, at in plans.own_prompts():
        must = plans.refused("the tool's own voice")
        yield Wanted("reject/own_voice", phrase, must, at, OWN_VOICE)


def _talk(lines: Iterable[dict[str, object]]) -> Iterator[Wanted]:
    for line in lines:
        for at in plans.places_for(str(line["say"]))[:2]:
            address = f"{plans.address(at)} " if line.get("with-address") else ""
            must = plans.refused("talk beside the chair")
            yield Wanted("reject/unrelated", f"{address}{line['say']}", must, at)


def voiced(all_wanted: Iterable[Wanted], before: Iterable[dict[str, str]]) -> list[Wanted]:
    """Choose the voices: as in the manifest `before` where they stand, the least used else."""
    had: dict[tuple[str, str], list[str]] = {}
    for entry in before:
        if entry["voice"] in VOICES:
            had.setdefault((entry["folder"], entry["phrase"]), []).append(entry["voice"])
    listed = list(all_wanted)
    chosen: list[Wanted | None] = [None] * len(listed)
    used = {folder: Counter(dict.fromkeys(VOICES, 0)) for folder in {w.folder for w in listed}}
    taken: dict[tuple[str, str], set[str]] = {}

    def choose(place: int, voice: str) -> None:
        want = listed[place]
        chosen[place] = Wanted(want.folder, want.phrase, want.must, want.at, voice)
        if voice in VOICES:
            used[want.folder][voice] += 1
            taken.setdefault((want.folder, want.phrase), set()).add(voice)

    for place, want in enumerate(listed):
        if want.voice:
            choose(place, want.voice)
        elif stock := had.get((want.folder, want.phrase)):
            choose(place, stock.pop(0))
    for place, want in enumerate(listed):
        if chosen[place] is None:
            taken_here = taken.get((want.folder, want.phrase), set())
            free = [voice for voice in VOICES if voice not in taken_here]
            kinds = {voice.split()[0] for voice in taken_here}
            other = [voice for voice in free if voice.split()[0] not in kinds]
            # evenly, and where it costs no evenness by the other synthesiser
            order = {voice: (used[want.folder][voice], voice not in other) for voice in free}
            choose(place, min(free, key=lambda voice: (*order[voice], VOICES.index(voice))))
    return [want for want in chosen if want is not None]


def spoken(phrase: str, voice: str) -> Wave:
    """Return `phrase` by a synthesiser at 16 kHz, trimmed, levelled; speed and pitch by a hash."""
    draw = _draw(phrase, voice)
    engine, name = voice.split()
    with tempfile.TemporaryDirectory() as folder:
        wav = Path(folder) / "spoken.wav"
        if engine == "flite":
            stretch, pitch = draw.uniform(0.9, 1.15), draw.uniform(0.9, 1.12)
            base = {"slt": 170, "rms": 95, "awb": 125, "kal16": 100}[name]
            command = ["flite", "-voice", name, "--setf", f"duration_stretch={stretch:.3f}",
                       "--setf", f"int_f0_target_mean={base * pitch:.0f}",
                       "-t", phrase, "-o", str(wav)]  # fmt: skip
        else:
            speed, pitch = draw.uniform(138, 172), draw.uniform(38, 62)
            command = ["espeak-ng", "-v", name, "-s", f"{speed:.0f}", "-p", f"{pitch:.0f}",
                       "-w", str(wav), phrase]  # fmt: skip
        subprocess.run(command, check=True, capture_output=True, timeout=60)
        samples, rate = soundfile.read(wav)
    return _levelled(soxr.resample(samples, rate, RATE))


def _levelled(wave: Wave) -> Wave:
    loud = np.flatnonzero(np.abs(wave) > 0.01 * np.abs(wave).max())
    wave = wave[loud[0] : loud[-1] + 1]
    return wave * (10 ** (LEVEL_DBFS / 20) / np.sqrt(np.mean(wave**2)))


def in_room(wave: Wave, draw: np.random.Generator) -> npt.NDArray[np.int16]:
    """Put a sound into a room that is never digitally silent."""
    margin = np.zeros(round(MARGIN * RATE))
    wave = np.concatenate([margin, wave, margin])
    wave = wave + draw.standard_normal(len(wave)) * 10 ** (FLOOR_DBFS / 20)
    stepped = np.rint(wave * 32768 / STEP) * STEP
    return np.clip(stepped, -32768, 32768 - STEP).astype(np.int16)


def _draw(*words: str) -> np.random.Generator:
    seed = hashlib.sha256("\0".join(words).encode()).digest()[:8]
    return np.random.default_rng(int.from_bytes(seed, "big"))


def make(want: Wanted, own: PyttsVoice) -> npt.NDArray[np.int16]:
    """Return the samples of one file."""
    draw = _draw(want.folder, want.phrase, want.voice)
    if want.voice == "noise":
        kind = want.phrase.rsplit(" ", 1)[0]
        return in_room(noises.KINDS[kind](draw), draw)
    if want.voice == OWN_VOICE:
        sound = own.render(want.phrase)
        wave = soxr.resample(sound.samples / 32768, sound.rate, RATE)
        return in_room(_levelled(wave), draw)
    return in_room(spoken(want.phrase, want.voice), draw)


def main() -> None:
    """Make the files and the manifest; drop files that no longer belong."""
    parser = argparse.ArgumentParser(description=str(__doc__).splitlines()[0])
    parser.add_argument("--all", action="store_true", help="make every file again")
    again = parser.parse_args().all
    before = [] if again else _read_manifest()
    entries = voiced(wanted(), before)
    own = PyttsVoice()
    made = count()
    for want in entries:
        path = HERE / want.path()
        if again or not path.exists():
            path.parent.mkdir(parents=True, exist_ok=True)
            samples = make(want, own)
            soundfile.write(path, samples, RATE, subtype="PCM_16", compression_level=1.0)
            next(made)
    own.close()
    odd = degenerate.make(HERE / "degenerate", lambda phrase: spoken(phrase, VOICES[0]))
    _drop_stale({want.path() for want in entries})
    _write_manifest(entries, odd)
    if unheard := plans.never_offered():
        print(f"never offered by the session, so not spoken: {', '.join(unheard)}")
    sizes = [(HERE / want.path()).stat().st_size for want in entries]
    print(f"{next(made)} made, {len(entries)} in all, {sum(sizes) / 1e6:.1f} MB")


def _read_manifest() -> list[dict[str, str]]:
    if not MANIFEST.exists():
        return []
    entries = [entry for entry in manifest.entries() if "phrase" in entry]
    return [{**entry, "folder": str(Path(entry["file"]).parent)} for entry in entries]


def _write_manifest(entries: list[Wanted], odd: list[dict[str, object]]) -> None:
    lines = [
        "# What is in each file and what must happen. Made by make_phrases.py, not edited.",
        "# `must`: `cue` is heard and leads `to`; or the file is `refused`, or reading it `told`.",
        "# `at`: the moment of the visit at which it is heard (see situations.py).",
        "# One entry a line, in the JSON that YAML contains.",
    ]
    for want in entries:
        at = {key: value for key, value in asdict(want.at).items() if value}
        entry = {"file": want.path(), "phrase": want.phrase, "voice": want.voice,
                 "must": want.must, "at": at}  # fmt: skip
        lines.append(f"- {json.dumps(entry)}")
    lines += [f"- {json.dumps(entry)}" for entry in odd]
    MANIFEST.write_text("\n".join(lines) + "\n", "utf-8")


def _drop_stale(kept: set[str]) -> None:
    for folder in ("accept", "reject"):
        for path in (HERE / folder).rglob("*.flac"):
            if str(path.relative_to(HERE)) not in kept:
                path.unlink()


if __name__ == "__main__":
    main()
