"""A rendering child that misbehaves once: what `FOLDER/mood` says, "hang", "die" or "hush"."""

import sys
import time
from pathlib import Path

from sidecue.devices.frames import Kind, read_frame, write_frame

mood = Path(sys.argv[1]).parent / "mood"
write_frame(sys.stdout.buffer, Kind.READY, b"{}")
while read_frame(sys.stdin.buffer) is not None:
    sample = b"\x00\x20"
    if mood.exists():
        how = mood.read_text().split()
        if how[-1] == "once":
            mood.unlink()
        if how[0] == "die":
            sys.exit(1)
        if how[0] == "hang":
            time.sleep(60)
        sample = b"\x00\x00"
    write_frame(sys.stdout.buffer, Kind.SOUND, (22_050).to_bytes(4, "little") + sample * 4410)
