"""A rendering child that misbehaves once: what `FOLDER/mood` says, "hang" or "die"."""

import sys
import time
from pathlib import Path

from sidecue.devices.frames import Kind, read_frame, write_frame

mood = Path(sys.argv[1]).parent / "mood"
write_frame(sys.stdout.buffer, Kind.READY, b"{}")
while read_frame(sys.stdin.buffer) is not None:
    if mood.exists():
        how = mood.read_text().split()
        if how[-1] == "once":
            mood.unlink()
        if how[0] == "die":
            sys.exit(1)
        time.sleep(60)
    write_frame(sys.stdout.buffer, Kind.SOUND, (22_050).to_bytes(4, "little") + b"\x00\x20" * 4410)
