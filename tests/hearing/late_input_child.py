"""A recording child whose device is back, and whose sound library takes its time to open it.

The first start is quick; the next, which waits, opens for two seconds without a sign of life.
"""

import json
import sys
import time

import numpy as np

from sidecue.devices.frames import Kind, write_frame
from sidecue.devices.serving import OPENING
from sidecue.hearing.input_child import STAMP

out = sys.stdout.buffer
if json.loads(sys.argv[1])["wait"]:
    write_frame(out, Kind.STATUS)
    write_frame(out, Kind.STATUS, OPENING)
    time.sleep(2.0)
facts = {"rate": 16_000, "channels": 1, "name": "Webcam", "host": "ALSA"}
write_frame(out, Kind.READY, json.dumps(facts).encode())
while True:
    time.sleep(0.05)
    payload = STAMP.pack(time.monotonic()) + np.ones(800, "<i2").tobytes()
    write_frame(out, Kind.SOUND, payload)
