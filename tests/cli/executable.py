"""How a test starts sidecue in a process of its own."""

import sys

# A shell that runs the tests in the background has them ignore Ctrl-C, and their children too;
# `nohup` does the same for a window that is closed.
_HEED = (
    "import signal; signal.signal(signal.SIGINT, signal.default_int_handler); "
    "signal.signal(signal.SIGHUP, signal.SIG_DFL); "
)

EXECUTABLE = (sys.executable, "-c", _HEED + "from sidecue.cli.main import main; main()")
