"""Synthetic talkers: flite and eSpeak NG, with a group held out from all tuning."""

from __future__ import annotations

import shutil
import subprocess
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import soundfile
import soxr

RATE = 16_000
Wave = npt.NDArray[np.float32]


@dataclass(frozen=True)
class Talker:
    """A voice of a synthesiser. `stretch` > 1 speaks slower; `pitch` is 0-99 (eSpeak NG)."""

    engine: str
    voice: str
    stretch: float = 1.0
    pitch: int = 50

    @property
    def name(self) -> str:
        """Short name for tables."""
        return f"{self.engine}:{self.voice}@{self.stretch:g}/{self.pitch}"

    @property
    def command(self) -> str:
        """The program that must be installed."""
        return "flite" if self.engine == "flite" else "espeak-ng"


TRAINING = (
    Talker("flite", "kal16"),
    Talker("flite", "rms"),
    Talker("flite", "kal", 1.1),
    Talker("flite", "rms", 0.85),
    Talker("espeak", "en-us+m1"),
    Talker("espeak", "en-us+f2", 0.9, 60),
    Talker("espeak", "en-us+m3", 1.15, 35),
    Talker("espeak", "en-gb+m2"),
    Talker("espeak", "en-gb+f1", 1.1),
    Talker("espeak", "en-gb+f3", 0.95, 45),
    Talker("espeak", "en-gb-x-gbclan+m4"),
    Talker("espeak", "en-us-nyc+f4", 1.05),
)
# Never fitted on: two flite voices, two accents. An early run on them was looked at while the
# features were chosen, so they are unseen by the numbers, not by their author.
HELD_OUT = (
    Talker("flite", "slt"),
    Talker("flite", "awb"),
    Talker("flite", "slt", 0.85),
    Talker("flite", "awb", 1.1),
    Talker("espeak", "en-gb-scotland+m3"),
    Talker("espeak", "en-gb-scotland+f2", 0.95),
    Talker("espeak", "en-gb-x-rp+m1", 1.05),
    Talker("espeak", "en-gb-x-rp+f4", 1.0, 55),
)
# Added later: two more accents that nobody had looked at.
FRESH = (
    Talker("espeak", "en-gb-x-gbcwmd+m7"),
    Talker("espeak", "en-gb-x-gbcwmd+f5", 1.05, 55),
    Talker("espeak", "en-029+m5", 0.95, 40),
    Talker("espeak", "en-029+f5", 1.05),
)
ACCENTS = {
    "slt": "United States (flite)",
    "awb": "Scotland (flite)",
    "en-gb-scotland": "Scotland",
    "en-gb-x-rp": "Received Pronunciation",
    "en-gb-x-gbcwmd": "West Midlands",
    "en-029": "Caribbean",
}


def accent_of(talker: Talker) -> str:
    """The accent of a held-out talker, for tables."""
    return ACCENTS[talker.voice.partition("+")[0]]


def missing_programs() -> tuple[str, ...]:
    """Programs the bench needs that this machine lacks."""
    return tuple(name for name in ("flite", "espeak-ng") if shutil.which(name) is None)


def speak(text: str, talker: Talker) -> Wave:
    """Return `text` spoken, mono 16 kHz, peak 0.5, trimmed of the synthesiser's own silence."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "said.wav"
        if talker.engine == "flite":
            command = ["flite", "-voice", talker.voice]
            command += ["--setf", f"duration_stretch={talker.stretch}", "-t", text, "-o", str(path)]
        else:
            speed = str(round(160 / talker.stretch))
            command = ["espeak-ng", "-v", talker.voice, "-s", speed, "-p", str(talker.pitch)]
            command += ["-w", str(path), text]
        subprocess.run(command, check=True, capture_output=True, timeout=30)
        wave, rate = soundfile.read(path, dtype="float32")
    if rate != RATE:
        wave = soxr.resample(wave, rate, RATE)
    loud = np.flatnonzero(np.abs(wave) > 0.01 * np.abs(wave).max())
    wave = wave[max(0, loud[0] - 400) : loud[-1] + 800]
    return np.asarray(wave * (0.5 / np.abs(wave).max()), dtype=np.float32)
