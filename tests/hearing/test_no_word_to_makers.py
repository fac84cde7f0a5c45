"""Privacy: no library that hears for us leaves a trace of its own, or looks for its maker."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from sidecue.hearing.encoder import model_file

_HEARS = """
import os, sys, time
import numpy as np
from sidecue.hearing.encoder import Encoder
Encoder().frames(np.ones(16_000, np.int16))
time.sleep(1.0)
held = [f"/proc/self/fd/{number}" for number in os.listdir("/proc/self/fd")]
print(sum("socket" in os.readlink(each) for each in held if os.path.exists(each)))
"""


@pytest.mark.skipif(model_file() is None, reason="no speech encoder here")
def test_the_ears_keep_no_number_of_the_machine_and_open_no_line(tmp_path):
    """Its maker's Privacy.md: builds of ONNX Runtime from 1.32 on write a device's number beside
    events to be sent into the user's cache, unless it is told not to."""
    alone = {key: value for key, value in os.environ.items() if not key.startswith("XDG_")}
    alone.pop("ORT_DISABLE_TELEMETRY", None)
    heard = subprocess.run(
        [sys.executable, "-c", _HEARS],
        env={**alone, "HOME": str(tmp_path)},
        capture_output=True, text=True, timeout=60, check=True,
    )  # fmt: skip
    assert heard.stdout.strip() == "0"
    assert "telemetry" not in heard.stderr.lower()
    assert [str(each.relative_to(tmp_path)) for each in Path(tmp_path).rglob("*")] == []
