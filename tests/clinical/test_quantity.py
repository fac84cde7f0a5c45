"""Exact numbers: rounding that never errs on the unsafe side."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.quantity import (
    exact,
    not_negative,
    plain,
    positive,
    whole_down,
    whole_up,
)


@pytest.mark.parametrize("value", [4.4, "4.4", Decimal("4.4"), Fraction(22, 5)])
def test_a_decimal_means_itself(value: float | str | Decimal | Fraction) -> None:
    assert exact(value, "dose") == Fraction(22, 5)


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "", "four", "1,8", True, "--1"])
def test_what_is_not_a_number_is_refused(value: float | str) -> None:
    with pytest.raises(ClinicalError, match="weight"):
        exact(value, "weight")


def test_signs() -> None:
    with pytest.raises(ClinicalError):
        positive(0, "depth")
    with pytest.raises(ClinicalError):
        not_negative(-0.1, "depth")
    assert not_negative(0, "depth") == 0


@pytest.mark.parametrize(
    ("value", "places", "text"),
    [
        ("2", 2, "2"), ("2.50", 2, "2.5"), ("0.005", 2, "0"), ("0.875", 2, "0.88"),
        ("11.9", 1, "11.9"), ("100", 0, "100"), ("-0.10", 2, "-0.1"), ("14.62", 1, "14.6"),
        ("0.04", 2, "0.04"), ("300", 2, "300"),
    ],
)  # fmt: skip
def test_numbers_are_written_plainly(value: str, places: int, text: str) -> None:
    assert plain(Fraction(value), places) == text


@given(st.fractions(min_value=0, max_value=10_000))
def test_rounding_direction(value: Fraction) -> None:
    assert whole_down(value) <= value <= whole_up(value)
    assert whole_up(value) - whole_down(value) <= 1


@given(st.decimals(min_value=0, max_value=1000, places=3))
def test_floats_of_short_decimals_are_taken_as_written(value: Decimal) -> None:
    assert exact(float(value), "x") == Fraction(value)
