"""What the ears alone take: memory at start and end, processor share in a quiet and a busy room.

Runs by itself in a fresh process (`python -m benchmarks.listening.footprint MINUTES`), so that
nothing of the bench is counted. Prints one line of JSON.
"""

from __future__ import annotations

import json
import os
import sys
import time
from pathlib import Path

import numpy as np

from sidecue.conductor.assembly import recogniser_of
from sidecue.hearing.ears import Ears
from sidecue.hearing.port import RATE, Block, Vocabulary
from sidecue.procedure.plan import Cue, Tier

BLOCK = RATE // 20
WORDS = (
    *("floss tied", "say that again", "how long left", "undo that", "skip this step"),
    *("hold everything", "stop talking", "patient is choking", "light on", "rinse finished"),
)


def resident() -> float:
    """Memory of this process, MB."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    return round(pages * os.sysconf("SC_PAGE_SIZE") / 1e6, 2)


def main() -> None:
    """Measure: half the minutes in a quiet room, then as many among speech-like bursts."""
    minutes = float(sys.argv[1])
    rng = np.random.default_rng(1)
    cues = tuple(Cue(words.replace(" ", "-"), (words,), Tier.ADVANCE, words) for words in WORDS)
    vocabulary = Vocabulary(cues, "okay tray")
    ears = Ears(recogniser_of("auto", None), lambda _: vocabulary)
    found: dict[str, object] = {"MB, loaded": resident()}
    now, marks = 0.0, []
    for busy in (False, True):
        began = time.process_time()
        blocks = int(minutes * 30 * RATE / BLOCK)
        for number in range(blocks):
            wave = rng.normal(0, 10, BLOCK)
            if busy and (number // 30) % 3 == 0:  # 1.5 s of bursts out of 4.5
                moment = (number * BLOCK + np.arange(BLOCK)) / RATE
                syllables = np.clip(np.sin(2 * np.pi * 4 * moment), 0, 1)
                wave += 1500 * syllables * rng.standard_normal(BLOCK)
            ears.take(Block(now, wave.astype(np.int16)))
            now += BLOCK / RATE
            if number % (blocks // 10 or 1) == 0:
                marks.append((now / 3600, resident()))
        key = "busy" if busy else "idle"
        found[f"processor share, {key}, %"] = round(
            100 * (time.process_time() - began) / (minutes * 30), 2
        )
        found[f"MB after {key}"] = resident()
    late = marks[len(marks) * 6 // 10 :]  # once both looks are loaded
    hours, memory = np.array(late).T
    if now > 600:  # seconds; less shows only the first fill of caches
        found["MB per hour"] = round(float(np.polyfit(hours, memory, 1)[0]), 2)
    found["hours"] = round(now / 3600, 3)
    print(json.dumps(found))


if __name__ == "__main__":
    main()
