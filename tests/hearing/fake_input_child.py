"""A recording child without a device: `FAKE_INPUT` is "RATE CHANNELS SPEED [SECONDS]".

It says RATE and delivers SPEED times as many samples a second: a 500 Hz tone at that rate in the
last channel. After SECONDS it delivers digital silence.
"""

import json
import os
import sys
import time

import numpy as np

from sidecue.devices.frames import Kind, write_frame
from sidecue.hearing.input_child import BLOCK_SECONDS, STAMP

says, channels, speed, *rest = (float(word) for word in os.environ["FAKE_INPUT"].split())
until = rest[0] if rest else float("inf")
facts = {"rate": int(says), "channels": int(channels), "name": "Webcam", "host": "ALSA"}
write_frame(sys.stdout.buffer, Kind.READY, json.dumps(facts).encode())
begun, sent = time.monotonic(), 0
frames = round(says * speed * BLOCK_SECONDS)
while True:
    place = np.arange(sent, sent + frames)
    wave = np.zeros((frames, int(channels)))
    if sent * BLOCK_SECONDS / frames < until:
        wave[:, -1] = 8000 * np.sin(2 * np.pi * 500 * place / says)
    sent += frames
    due = begun + sent / frames * BLOCK_SECONDS  # a device's clock, however busy the machine is
    time.sleep(max(0.0, due - time.monotonic()))
    payload = STAMP.pack(due) + wave.astype("<i2").tobytes()
    write_frame(sys.stdout.buffer, Kind.SOUND, payload)
