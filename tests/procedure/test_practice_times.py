"""The practice's times: read as they are written, never guessed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.procedure.practice import seconds_of


@pytest.mark.parametrize(
    ("written", "seconds"),
    [("15 s", 15), ("15s", 15), ("1.5 min", 90), ("3:30", 210), ("0:20", 20), ("24 h", 86_400)],
)
def test_written_times_in_seconds(written: str, seconds: float) -> None:
    assert seconds_of(written) == seconds


@pytest.mark.parametrize(
    "written", ["", "15", "s", "0 s", "-5 s", "15 m", "1:75", "ten s", "nan s"]
)
def test_what_is_not_a_time_is_refused(written: str) -> None:
    with pytest.raises(ValueError, match="is not a time"):
        seconds_of(written)


@given(st.integers(1, 9999), st.sampled_from([("s", 1), ("min", 60), ("h", 3600)]))
def test_every_whole_number_of_a_unit_is_that_many(number: int, unit: tuple[str, int]) -> None:
    assert seconds_of(f"{number} {unit[0]}") == number * unit[1]
