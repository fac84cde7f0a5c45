"""Voices, vocabulary and a room with a sound server, for the tests of the ears."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import soundfile
from english import ENGLISH

from sidecue.hearing.conditioning import to_mono_16k
from sidecue.hearing.moonshine import MoonshineRecogniser
from sidecue.hearing.port import RATE, Samples, Vocabulary
from sidecue.hearing.sphinx import SphinxRecogniser

QUIET = np.zeros(RATE // 2, dtype=np.int16)


@pytest.fixture(scope="session")
def english() -> Vocabulary:
    return ENGLISH


@pytest.fixture(scope="session")
def sphinx() -> Iterator[SphinxRecogniser]:
    recogniser = SphinxRecogniser()
    yield recogniser
    recogniser.close()


@pytest.fixture(scope="session")
def moonshine() -> Iterator[MoonshineRecogniser]:
    recogniser = MoonshineRecogniser()
    yield recogniser
    recogniser.close()


@pytest.fixture(scope="session")
def speak(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Samples]:
    """Speech of eSpeak NG, or of flite for a voice called `flite:NAME`."""
    folder = tmp_path_factory.mktemp("spoken")

    def spoken(text: str, voice: str = "en-us") -> Samples:
        engine = "flite" if voice.startswith("flite:") else "espeak-ng"
        if shutil.which(engine) is None:
            pytest.skip(f"needs the program {engine}")
        path: Path = folder / "spoken.wav"
        if engine == "flite":
            command = ["flite", "-voice", voice.split(":")[1], "-t", text, "-o", str(path)]
        else:
            command = ["espeak-ng", "-v", voice, "-s", "150", "-w", str(path), text]
        subprocess.run(command, check=True, capture_output=True, timeout=30)
        wave, rate = soundfile.read(path, dtype="int16")
        return np.concatenate([QUIET[:3200], to_mono_16k(wave, rate), QUIET[:3200]])

    return spoken
