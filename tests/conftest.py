"""How the tests are spread over the cores."""

from __future__ import annotations

import os

import pytest


def pytest_xdist_auto_num_workers(config: pytest.Config) -> int:
    """One process more than there are cores: many tests wait for sound, a page or a clock."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    return (cores or 1) + 1
