"""Radiant exposure, seconds and layers."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sidecue.clinical import curing
from sidecue.clinical.errors import ClinicalError
from sidecue.clinical.quantity import plain

FORMULA = "radiant exposure = irradiance x time"


@pytest.mark.parametrize(
    ("irradiance", "seconds", "joules"),
    [
        pytest.param(800, 20, "16", id="oracle-21"),
        # Derived from the definition of radiant exposure.
        (400, 40, "16"), (1000, 20, "20"), (600, 20, "12"), (1200, 10, "12"), (1200, 40, "48"),
        (3000, 3, "9"),
        # Oper Dent 33-4 p408: 620 mW/cm2 for 20 s.
        (620, 20, "12.4"),
    ],
)  # fmt: skip
def test_radiant_exposure(irradiance: int, seconds: int, joules: str) -> None:
    assert curing.radiant_exposure(irradiance, seconds) == Fraction(joules), FORMULA


@pytest.mark.parametrize(
    ("irradiance", "target", "seconds"),
    [
        pytest.param(600, 16, 27, id="oracle-22"),
        pytest.param(864, 16, 19, id="oracle-23-seconds"),
        # Derived, rounded up; target of scielo.br S1806-83242015000100257; irradiances of IADR
        # 2013 abstract 176031.
        (1200, 16, 14), (806, 16, 20), (2758, 16, 6), (1012, 16, 16), (800, 16, 20),
        (400, 16, 40), (1000, 16, 16), (1600, 16, 10), (1000, "6.1", 7), (0.1, "0.001", 10),
    ],
)  # fmt: skip
def test_seconds_are_rounded_up(irradiance: float, target: float | str, seconds: int) -> None:
    assert curing.cure_seconds(irradiance, target) == seconds


@pytest.mark.parametrize(
    ("near", "far", "loss"),
    [
        # Source: IADR 2013 abstract 176031.
        pytest.param(1012, 864, "14.6", id="oracle-23-loss"),
        (2758, 806, "70.8"),
    ],
)
def test_loss_with_distance(near: int, far: int, loss: str) -> None:
    assert plain(curing.loss_percent(near, far), 1) == loss


def test_distance_uses_the_lights_own_table() -> None:
    # Source: IADR 2013 abstract 176031: no common factor between lights.
    table = {0: 1012, 4: 864}
    assert curing.irradiance_at(table, 0) == 1012
    assert curing.irradiance_at(table, 2) == 864
    assert curing.irradiance_at(table, 4) == 864
    with pytest.raises(ClinicalError, match="further"):
        curing.irradiance_at(table, "4.1")


@pytest.mark.parametrize(
    ("depth", "bulk", "instructions", "count"),
    [
        # Sources: PMC5608064 (2 mm), mdentjournal 198068 (bulk fill 4 mm; some instructions 5).
        (2, False, None, 1), (3, False, None, 2), ("2.1", False, None, 2), (4, False, None, 2),
        (5, False, None, 3), (6, False, "1.5", 4), (4, True, None, 1), ("4.1", True, None, 2),
        (5, True, 5, 1), (8, True, None, 2), ("0.5", False, None, 1), (6.0, False, 2.0, 3),
    ],
)  # fmt: skip
def test_layers_from_depth(
    depth: float | str, bulk: bool, instructions: float | str | None, count: int
) -> None:
    built = curing.increments(depth, bulk_fill=bulk, instructions_mm=instructions)
    assert built.count == count


def test_oracle_24_three_millimetres_of_conventional_composite_is_refused() -> None:
    # Source: mdentjournal 198068.
    with pytest.raises(ClinicalError, match="3 mm"):
        curing.check_increment(3, bulk_fill=False)
    with pytest.raises(ClinicalError):
        curing.layer_limit(bulk_fill=False, instructions_mm=3)
    with pytest.raises(ClinicalError):
        curing.layer_limit(bulk_fill=True, instructions_mm=6)
    assert curing.check_increment(3, bulk_fill=True) == 3
    assert curing.check_increment(2, bulk_fill=False) == 2


@pytest.mark.parametrize(
    ("irradiance", "seconds", "target", "word"),
    [
        # Convention of 400 mW/cm2 (from memory), 2014 consensus, Oper Dent 33-4 and 35-2.
        (399, 60, 16, "weak"), (1501, 20, 16, "strong"), (2000, 5, 8, "short exposure"),
        (620, 20, 16, "below the target"), (1000, 30, 25, "outside the usual"),
        (1000, 21, 16, "air on the tooth"),
    ],
)  # fmt: skip
def test_cautions(irradiance: int, seconds: int, target: int, word: str) -> None:
    found = curing.cure_findings(irradiance, seconds, target)
    assert any(word in finding.text for finding in found)


@pytest.mark.parametrize(("irradiance", "seconds"), [(400, 40), (800, 20), (1000, 16), (1500, 11)])
def test_an_ordinary_exposure_has_no_warning(irradiance: int, seconds: int) -> None:
    found = curing.cure_findings(irradiance, seconds)
    assert [finding for finding in found if finding.severity.value == "warn"] == []


def test_thick_bulk_layers_are_warned_about() -> None:
    # Source: mdentjournal 198068: 4 mm needed 40 s at 1200 mW/cm2; 5 mm was never hard.
    assert curing.increments(4, bulk_fill=True, seconds=20).findings
    assert curing.increments(4, bulk_fill=True, seconds=40).findings == ()
    five = curing.increments(5, bulk_fill=True, instructions_mm=5, seconds=40)
    assert any("5 mm" in finding.text for finding in five.findings)
    assert curing.increments(2, bulk_fill=True).findings == ()


@pytest.mark.parametrize(
    ("scraped", "opaque", "passes"),
    [
        # Source: ISO 4049 as read on a secondary page: half the scraped length, 1.5 / 1.0 mm.
        ("3.0", False, True), ("2.9", False, False), ("2.0", True, True), ("1.9", True, False),
    ],
)  # fmt: skip
def test_depth_of_cure(scraped: str, opaque: bool, passes: bool) -> None:
    assert curing.meets_iso_4049(scraped, opaque=opaque) == passes


@pytest.mark.parametrize("bad", [0, -1, float("nan"), "bright"])
def test_irradiance_must_be_a_number_above_zero(bad: float | str) -> None:
    with pytest.raises(ClinicalError, match="irradiance"):
        curing.cure_seconds(bad)


lights = st.integers(1, 5000)
joules = st.decimals(min_value="0.1", max_value=60, places=1)


@given(lights, joules)
def test_the_seconds_reach_the_target_and_one_less_does_not(light: int, target: object) -> None:
    seconds = curing.cure_seconds(light, str(target))
    wanted = Fraction(str(target))
    assert curing.radiant_exposure(light, seconds) >= wanted
    assert curing.radiant_exposure(light, seconds - 1) < wanted


@given(lights, lights, joules)
def test_a_stronger_light_is_never_slower(one: int, other: int, target: object) -> None:
    weak, strong = sorted((one, other))
    assert curing.cure_seconds(strong, str(target)) <= curing.cure_seconds(weak, str(target))


@given(st.decimals(min_value="0.1", max_value=12, places=1), st.booleans())
def test_layers_fill_the_depth_and_no_layer_is_too_thick(depth: object, bulk: bool) -> None:
    built = curing.increments(str(depth), bulk_fill=bulk)
    assert built.count * built.thickness_mm == Fraction(str(depth))
    assert built.thickness_mm <= curing.layer_limit(bulk_fill=bulk)
    assert (built.count - 1) * curing.layer_limit(bulk_fill=bulk) < Fraction(str(depth))
