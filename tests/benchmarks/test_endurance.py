"""The hours of sound that the endurance bench runs through a session."""

import pytest
from benchmarks.edges.endurance import accelerated


def test_two_minutes_of_them_go_through_the_whole_live_loop():
    found = accelerated(130.0, within=60.0)
    assert found["hours of sound"] == pytest.approx(130 / 3600, abs=0.01)
    assert found["MB at the end, all processes"] > 20
