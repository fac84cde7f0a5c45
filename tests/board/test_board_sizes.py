"""Letters are as large as the distance asks for."""

import pytest

from sidecue.board.sizes import GOAL_ARCMIN, LEAST_ARCMIN, Viewing, good_for, height_mm


# Geometry: 2 d tan(a / 2). 22 and 35 minutes of arc at 3 m are the published 19.2 and 30.5 mm
# (display legibility guidance, from memory).
@pytest.mark.parametrize(("arcmin", "mm"), [(LEAST_ARCMIN, 19.2), (GOAL_ARCMIN, 30.5)])
def test_letters_at_three_metres(arcmin, mm):
    assert height_mm(3.0, arcmin) == pytest.approx(mm, abs=0.05)


def test_twice_as_far_needs_letters_twice_as_high():
    assert Viewing(27, 6).least_mm == pytest.approx(2 * Viewing(27, 3).least_mm)


def test_a_millimetre_in_pixels_follows_from_the_diagonal():
    # 1920 x 1080 on 27 inches: 2202.9 pixels over 685.8 mm, so 3.212 pixels to the millimetre.
    assert Viewing(27).pixels(1, 1920, 1080) == pytest.approx(3.212, abs=0.001)


@pytest.mark.parametrize(("inches", "metres"), [(0, 3), (27, 0), (1000, 3), (27, float("nan"))])
def test_a_screen_that_cannot_be_is_refused_in_one_line(inches, metres):
    with pytest.raises(ValueError, match=r"^a (screen|distance) of .*: give "):
        Viewing(inches, metres)


def test_it_is_told_from_how_far_a_screen_is_good_and_that_it_is_not_good_for_more():
    near, far = Viewing(24, 2.5), Viewing(24, 3.0)
    assert good_for(24) == 2.6
    assert "every step large enough for 2.6 m; letters are set for 2.5 m" in near.told
    assert "for 2.6 m: at 3 m the fullest steps come out smaller" in far.told
