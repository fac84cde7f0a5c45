"""How the tests share a machine."""

import gc
import os

from hypothesis import Phase, settings

# A child that may not keep what it compiled compiles the whole tool again: a tenth of its time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


# While faults are put into the machine: one example that fails is enough, however large.
settings.register_profile(
    "faults", settings.get_profile("ci"), phases=(Phase.explicit, Phase.reuse, Phase.generate)
)


def pytest_collection_finish():
    """What the tests themselves are made of is no rubbish, and is not looked through again and
    again: a tenth of the time of all that is Python alone."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
