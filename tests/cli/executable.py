"""How a test starts sidecue in a process of its own."""

import sys

EXECUTABLE = (sys.executable, "-c", "from sidecue.cli.main import main; main()")
