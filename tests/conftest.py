"""How the tests share a machine."""

import os

# A child that may not keep what it compiled compiles the whole tool again: a tenth of its time.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
