"""The fixtures' own modules (situations, plans) are used from where the files are made."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2] / "audio_fixtures"))
