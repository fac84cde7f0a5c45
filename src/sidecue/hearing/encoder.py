"""Sound to frames of a speech encoder: what was said, less who said it and in what noise.

The encoder is the small English one of Moonshine (MIT licence), taken from the wheel
`moonshine-voice` and run by ONNX Runtime; nothing else of that package is loaded.
"""

from __future__ import annotations

import importlib.util
import os
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from sidecue.hearing.freed import give_back
from sidecue.hearing.port import Samples

HOP = 384  # samples of a frame, 24 ms
WIDTH = 288  # numbers in a frame
SHORTEST = 1_600  # samples; shorter sound makes no frame
LEVEL = 0.1  # RMS that sound is brought to, full scale 1.0

Frames = npt.NDArray[np.float32]


def model_file() -> Path | None:
    """Where the encoder lies, or None where the wheel is missing or carries no model."""
    spec = importlib.util.find_spec("moonshine_voice")
    if spec is None or not spec.submodule_search_locations:
        return None
    found = Path(spec.submodule_search_locations[0]) / "assets" / "tiny-en" / "encoder_model.ort"
    return found if found.is_file() else None


def levelled(samples: Samples) -> Frames:
    """Return `samples` as floats at LEVEL; silence stays silence."""
    wave = samples.astype(np.float32) / 32768.0
    rms = float(np.sqrt(np.mean(np.square(wave)))) if len(wave) else 0.0
    return np.asarray(wave * (LEVEL / max(rms, 1e-4)), dtype=np.float32)


def session_of(path: Path) -> Any:
    """Load a model to be run on one core, which is enough and leaves the other to the visit.

    Official builds of ONNX Runtime send events to their maker, and keep a number of the machine,
    unless told not to before they are loaded (its Privacy.md, versions 1.32 and on): nothing of
    ours leaves the machine.
    """
    os.environ["ORT_DISABLE_TELEMETRY"] = "1"
    import onnxruntime

    onnxruntime.disable_telemetry_events()  # on Windows older builds do not read the variable
    options = onnxruntime.SessionOptions()
    options.intra_op_num_threads = 1
    options.inter_op_num_threads = 1
    options.enable_cpu_mem_arena = False
    return onnxruntime.InferenceSession(str(path), options, providers=["CPUExecutionProvider"])


class Encoder:
    """Loads the model once. One thread owns it."""

    def __init__(self) -> None:
        """Raise ValueError, saying what to install, where there is no model."""
        path = model_file()
        if path is None:
            raise ValueError("the speech encoder is missing: pip install 'moonshine-voice<0.0.70'")
        self._session = session_of(path)
        give_back()  # the model's file was read twice over

    def frames(self, samples: Samples) -> Frames:
        """Return the frames of `samples` (mono 16 kHz int16): (len // HOP or so, WIDTH)."""
        if len(samples) < SHORTEST:
            return np.zeros((0, WIDTH), dtype=np.float32)
        wave = levelled(samples)[None]
        mask = np.ones(wave.shape, dtype=np.int64)
        found = self._session.run(None, {"input_values": wave, "attention_mask": mask})[0]
        give_back()  # some twenty megabytes for two seconds of sound
        return np.asarray(found[0], dtype=np.float32)
