"""Plans to export: a small one with a timer of every kind, and a shipped one."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

import shipped_library

TESTS = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(TESTS.parent), str(TESTS / "proof")]  # the benchmarks, and the small plan


@pytest.fixture(scope="session")
def small():
    from proof_plan import small_plan

    return small_plan()


@pytest.fixture(scope="session")
def sealant(shipped):
    """The fissure sealant of the shipped case."""
    from sidecue.cli.setting import DEFAULT_PRACTICE, planned

    return planned(shipped, shipped.practices[DEFAULT_PRACTICE], "sealant-36-o").plan


@pytest.fixture(scope="session")
def shipped():
    return shipped_library.shipped()
