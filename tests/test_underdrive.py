"""Underdrive presses: motion from the plain geometry of crank and rod, capacity from work, numerically.

Nothing here uses the formulas of the library: the slide pin is where a circle of the rod's length round the crank
pin meets the line of travel, and levers are differences of such positions.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from pressfuncs import (
    capacity_curve,
    crank_angle_at,
    fastest_height,
    height_for_force,
    mechanical_capacity,
    rated_torque,
    slide_height,
    slide_speed,
)
from pressfuncs.errors import WrongChoice

STROKES = st.floats(10, 1000)
ROD_RATIOS = st.floats(0.6, 12)
PLACES = st.floats(0, 1)
RATED_PLACES = st.floats(0.01, 0.3)
PRESS = {"rated_force": 1e6, "rated_height": 6.0, "stroke": 100.0, "rod": 400.0}


def position(stroke: float, rod: float, angle: float) -> float:
    """Height of the slide of an underdrive press: the crank turns at the origin, the slide pin is above it."""
    radius = stroke / 2
    across, up = radius * math.sin(angle), -radius * math.cos(angle)  # the crank pin, at the bottom for angle 0
    return up + math.sqrt(rod * rod - across * across) - (rod - radius)


def numeric_lever(stroke: float, rod: float, angle: float) -> float:
    """Slide travel per radian as a difference quotient of fourth order."""
    step = 1e-3
    near, far = (position(stroke, rod, angle + n * step) - position(stroke, rod, angle - n * step) for n in (1, 2))
    return (8 * near - far) / (12 * step)


def angle_of(stroke: float, rod: float, height: float) -> float:
    return float(brentq(lambda angle: position(stroke, rod, angle) - height, 0, math.pi, xtol=1e-14))


@given(STROKES, ROD_RATIOS, st.floats(-2 * math.pi, 2 * math.pi))
def test_slide_is_where_rod_and_line_of_travel_meet(stroke, ratio, angle):
    rod = ratio * stroke
    expected = position(stroke, rod, angle)
    assert slide_height(stroke, rod, angle, "under") == pytest.approx(expected, rel=1e-9, abs=1e-12 * rod)


@given(STROKES, ROD_RATIOS, st.floats(0, math.pi))
def test_the_folded_crank_is_the_extended_one_seen_from_the_top(stroke, ratio, angle):
    rod = ratio * stroke
    height = slide_height(stroke, rod, angle, "under")
    assert height == pytest.approx(stroke - slide_height(stroke, rod, math.pi - angle, "top"), abs=1e-12 * rod)
    assert fastest_height(stroke, rod, "under") == pytest.approx(stroke - fastest_height(stroke, rod), rel=1e-12)


@given(STROKES, ROD_RATIOS, PLACES)
def test_crank_angle_and_height_are_each_others_inverse(stroke, ratio, place):
    rod, height = ratio * stroke, place * stroke
    angle = crank_angle_at(stroke, rod, height, "under")
    assert 0 <= angle <= math.pi
    assert slide_height(stroke, rod, angle, "under") == pytest.approx(height, rel=1e-11, abs=1e-13 * stroke)


def test_rounding_just_below_the_top_gives_half_a_turn():
    """The square of the sine of the half angle comes out above 1 in the last digit."""
    height = math.nextafter(510.518, 0)
    assert height * (2 * 256.9559373131044 + height) / (2 * 510.518 * (256.9559373131044 - 255.259 + height)) > 1
    assert crank_angle_at(510.518, 256.9559373131044, height, "under") == math.pi


@given(STROKES, ROD_RATIOS, st.floats(0.01, math.pi - 0.01), st.floats(0.1, 10))
def test_slide_speed_is_the_numeric_derivative_of_the_position(stroke, ratio, angle, rate):
    rod = ratio * stroke
    found = slide_speed(stroke, rod, rate, min(position(stroke, rod, angle), stroke), "under")
    expected = numeric_lever(stroke, rod, angle) * 2 * math.pi * rate
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-8 * stroke * rate)


@given(STROKES, ROD_RATIOS)
def test_the_slide_is_fastest_above_half_of_the_stroke(stroke, ratio):
    rod = ratio * stroke
    best = minimize_scalar(
        lambda angle: -numeric_lever(stroke, rod, angle),
        bounds=(0, math.pi),
        method="bounded",
        options={"xatol": 1e-9},
    )
    found = fastest_height(stroke, rod, "under")
    assert slide_speed(stroke, rod, 1.0, found, "under") == pytest.approx(-best.fun * 2 * math.pi, rel=1e-7)
    assert found == pytest.approx(position(stroke, rod, best.x), abs=1e-4 * stroke)
    assert found > stroke / 2 or ratio < 1


@given(STROKES, st.floats(1, 12), RATED_PLACES, PLACES)
def test_torque_times_angle_is_the_integral_of_force_over_slide_travel(stroke, ratio, rated_place, place):
    rod, rated_height = ratio * stroke, rated_place * stroke
    top = rated_height + place * (fastest_height(stroke, rod, "under") - rated_height)
    assume(top > rated_height * 1.001)
    work = quad(
        lambda h: mechanical_capacity(1e6, rated_height, stroke, rod, h, "under"),
        rated_height,
        top,
        epsrel=1e-10,
    )[0]
    turned = angle_of(stroke, rod, top) - angle_of(stroke, rod, rated_height)
    torque = rated_torque(1e6, rated_height, stroke, rod, "under")
    assert work == pytest.approx(torque * turned, rel=1e-7)
    assert torque == pytest.approx(1e6 * numeric_lever(stroke, rod, angle_of(stroke, rod, rated_height)), rel=1e-6)


@given(STROKES, st.floats(1, 12), st.floats(0.01, 0.5), PLACES)
def test_an_underdrive_gives_the_same_up_to_the_rated_height_and_no_more_above(stroke, ratio, rated_place, place):
    rod, rated_height, height = ratio * stroke, rated_place * stroke, place * stroke
    top, under = (mechanical_capacity(1e6, rated_height, stroke, rod, height, drive) for drive in ("top", "under"))
    if height <= rated_height:
        assert under == top == 1e6
    else:
        assert 0 < under <= top * (1 + 1e-12)


@given(STROKES, st.floats(0.51, 12), st.floats(0.01, 0.5), PLACES, PLACES)
def test_its_capacity_never_rises_with_the_height(stroke, ratio, rated_place, first, second):
    rod, rated_height = ratio * stroke, rated_place * stroke
    lower, higher = sorted((first * stroke, second * stroke))
    below = mechanical_capacity(1e6, rated_height, stroke, rod, lower, "under")
    assert below >= mechanical_capacity(1e6, rated_height, stroke, rod, higher, "under") * (1 - 1e-12)


@given(STROKES, ROD_RATIOS, RATED_PLACES, PLACES)
def test_above_its_fastest_height_the_capacity_stays(stroke, ratio, rated_place, place):
    rod, rated_height = ratio * stroke, rated_place * stroke
    fastest = fastest_height(stroke, rod, "under")
    kept = mechanical_capacity(1e6, rated_height, stroke, rod, fastest, "under")
    above = fastest + place * (stroke - fastest)
    assert mechanical_capacity(1e6, rated_height, stroke, rod, above, "under") == pytest.approx(kept, rel=1e-12)


@given(STROKES, st.floats(0.51, 12), st.floats(0.01, 0.5))
def test_the_rating_holds_from_the_rated_height_down_with_any_rod(stroke, ratio, rated_place):
    rod, rated_height = ratio * stroke, rated_place * stroke
    for height in (0.0, rated_height):
        assert mechanical_capacity(1e6, rated_height, stroke, rod, height, "under") == 1e6


@pytest.mark.parametrize(("rods", "less"), [(4, 0.104), (3, 0.137), (2, 0.198)])
def test_at_half_of_the_stroke_it_gives_a_tenth_to_a_fifth_less(rods, less):
    press = (1e6, 6.0, 100.0, 100.0 * rods, 50.0)
    assert mechanical_capacity(*press, "under") / mechanical_capacity(*press) == pytest.approx(1 - less, abs=5e-4)


@given(STROKES, ROD_RATIOS, RATED_PLACES, st.floats(0.05, 1))
def test_height_for_force_is_the_last_height_that_gives_the_force(stroke, ratio, rated_place, share):
    rod, rated_height = ratio * stroke, rated_place * stroke
    height = height_for_force(1e6, rated_height, stroke, rod, share * 1e6, "under")
    assert rated_height <= height <= stroke
    assert height <= height_for_force(1e6, rated_height, stroke, rod, share * 1e6) * (1 + 1e-9)
    for place in np.linspace(0, height, 40):
        given_there = mechanical_capacity(1e6, rated_height, stroke, rod, float(place), "under")
        assert given_there >= share * 1e6 * (1 - 1e-12)
    if height < stroke:
        above = min(height * (1 + 1e-6), stroke)
        assert mechanical_capacity(1e6, rated_height, stroke, rod, above, "under") <= share * 1e6 * (1 + 1e-12)


def test_curve_agrees_with_the_function_and_lies_below_that_of_a_top_drive():
    rows = capacity_curve(**PRESS, points=40, drive="under")
    heights = [height for height, _ in rows]
    assert (heights[0], heights[1], heights[-1]) == (0.0, 6.0, 100.0)
    assert heights == sorted(set(heights))
    assert all(force == mechanical_capacity(**PRESS, height=height, drive="under") for height, force in rows)
    turns = [crank_angle_at(100.0, 400.0, height, "under") for height in heights[1:]]
    assert np.ptp(np.diff(turns)) == pytest.approx(0, abs=1e-9)


def test_top_is_meant_when_left_blank():
    assert slide_height(100, 400, 1.0) == slide_height(100, 400, 1.0, "top")
    assert crank_angle_at(100, 400, 10) == crank_angle_at(100, 400, 10, "top")
    assert slide_speed(100, 400, 1, 10) == slide_speed(100, 400, 1, 10, "top")
    assert fastest_height(100, 400) == fastest_height(100, 400, "top")
    assert rated_torque(**PRESS) == rated_torque(**PRESS, drive="top")
    assert mechanical_capacity(**PRESS, height=50.0) == mechanical_capacity(**PRESS, height=50.0, drive="top")
    assert height_for_force(**PRESS, force=6e5) == height_for_force(**PRESS, force=6e5, drive="top")
    assert capacity_curve(**PRESS) == capacity_curve(**PRESS, drive="top")


def test_another_drive_is_refused():
    for call in (
        lambda: slide_height(100, 400, 1.0, "side"),
        lambda: crank_angle_at(100, 400, 10, "side"),
        lambda: slide_speed(100, 400, 1, 10, "side"),
        lambda: fastest_height(100, 400, "side"),
        lambda: rated_torque(**PRESS, drive="side"),
        lambda: mechanical_capacity(**PRESS, height=50.0, drive="side"),
        lambda: height_for_force(**PRESS, force=6e5, drive="side"),
        lambda: capacity_curve(**PRESS, drive="side"),
    ):
        with pytest.raises(WrongChoice, match=r'drive "side" is not known.*top, under'):
            call()


def test_columns_give_what_a_loop_gives():
    heights = np.array([0.0, 3.0, 6.0, 12.7, 50.0, 54.0, 80.0, 100.0])
    np.testing.assert_allclose(
        mechanical_capacity(1e6, 6.0, 100.0, 400.0, heights, "under"),
        [mechanical_capacity(**PRESS, height=float(height), drive="under") for height in heights],
        rtol=1e-14,
    )
