"""Strikes as they are entered in the dark, and what they amount to."""

import math

import numpy as np
import pytest

from groundtone.lesson.strike_counts import count, wilson
from groundtone.review.strikes import Contact, Line, Strike, StrikeError, in_words, press, read_entry


def test_a_line_of_keys_tells_everything():
    assert read_entry("6 t l d120") == Strike(field=6, contact=Contact.THIN, line=Line.LEFT, distance_m=120.0)


def test_keys_need_no_spaces_and_no_order():
    assert read_entry("d120,5lt6") == Strike(field=6, contact=Contact.THIN, line=Line.LEFT, distance_m=120.5)


def test_yards_become_metres():
    assert read_entry("d100", yards=True).distance_m == pytest.approx(91.44)


def test_a_measured_place():
    strike = read_entry("mm=-12,3 c")
    assert strike.at_mm == (-12.0, 3.0)
    assert strike.inside()  # 12.4 mm from the centre
    assert not strike.inside(12.0)


def test_nothing_told_is_a_strike_too():
    assert not read_entry("").told
    assert in_words(Strike()) == "not told"
    assert Strike().clean is None
    assert Strike().inside() is None


@pytest.mark.parametrize("text", ["x", "0", "d", "mm=1", "mm=a,b", "mm=nan,0", "mm=90,0", "d900", "6 ?"])
def test_what_cannot_be_understood_is_refused_in_one_sentence(text):
    with pytest.raises(StrikeError) as refused:
        read_entry(text)
    assert len(str(refused.value).splitlines()) == 1


def test_the_same_key_again_takes_it_back():
    strike = press(press(Strike(), "6"), "f")
    assert press(strike, "6") == Strike(contact=Contact.FAT)
    assert press(strike, "F") == Strike(field=6)
    assert press(strike, "4").field == 4


def test_within_one_line_a_key_twice_is_a_slip():
    assert read_entry("66") == Strike(field=6)


def test_heel_is_on_the_left_and_high_at_the_top():
    assert read_entry("4").at_mm[0] < 0 == read_entry("4").at_mm[1]
    assert read_entry("9").at_mm[0] > 0 < read_entry("9").at_mm[1]
    assert in_words(read_entry("1")) == "low heel"
    assert in_words(read_entry("5 s")) == "centre, shank"


def test_a_shank_is_never_inside():
    assert Strike(field=5, contact=Contact.SHANK).inside() is False


def test_counts():
    strikes = [Strike(field=5, distance_m=90), Strike(field=5, contact=Contact.CLEAN), Strike(field=6, distance_m=30)]
    counted = count([*strikes, Strike()], usual_m=100.0)
    assert (counted.placed, counted.inside) == (3, 2)
    assert counted.contacts == {"clean": 1}
    assert counted.kept == pytest.approx(0.6)
    assert counted.ellipse is None


def test_nothing_counted_is_not_a_number():
    nothing = count([])
    assert math.isnan(nothing.inside_share)
    assert math.isnan(nothing.kept)


def test_the_ellipse_of_places_on_a_line_along_the_face():
    places = [Strike(place_mm=(x, 0.0)) for x in (-10.0, -5.0, 0.0, 5.0, 10.0)]
    ellipse = count(places).ellipse
    assert ellipse.centre_mm == (0.0, 0.0)
    # Variance 62.5 mm^2; 2 · 4 · 6 / (5 · 3) · F(0.95; 2, 3), and F is 9.552.
    assert (ellipse.major_mm, ellipse.minor_mm) == pytest.approx((math.sqrt(3.2 * 9.5521 * 62.5), 0.0), rel=1e-5)
    assert ellipse.angle_deg == pytest.approx(0.0)


def test_the_ellipse_holds_95_in_100():
    rng = np.random.default_rng(3)
    cloud = rng.multivariate_normal((3.0, -2.0), [[60.0, 25.0], [25.0, 30.0]], 4000)
    ellipse = count([Strike(place_mm=(x, y)) for x, y in cloud[:2000]]).ellipse
    a = math.radians(ellipse.angle_deg)
    away = cloud[2000:] - ellipse.centre_mm
    long, short = away @ (math.cos(a), math.sin(a)), away @ (-math.sin(a), math.cos(a))
    inside = (long / ellipse.major_mm) ** 2 + (short / ellipse.minor_mm) ** 2 <= 1
    assert inside.mean() == pytest.approx(0.95, abs=0.015)


def test_wilson_of_none():
    assert math.isnan(wilson(0, 0)[0])
