"""How the tests share a machine."""

import os

# A child that may not keep what it compiled compiles the whole tool again: a tenth of its time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


def pytest_xdist_auto_num_workers() -> int:
    """One worker more than there are cores.

    What needs a browser and what needs real sound are two groups: their workers mostly wait, and
    never for a core that two others want besides. Everything else computes.
    """
    return (os.cpu_count() or 1) + 1
