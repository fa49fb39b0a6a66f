"""The mechanical chapter: slide motion against sympy, capacity against work, flywheel and motor."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest
import sympy
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.optimize import brentq, minimize_scalar

from pressfuncs import (
    capacity_curve,
    crank_angle_at,
    crankshaft_capacity,
    fastest_height,
    flywheel_energy,
    flywheel_inertia,
    flywheel_speed,
    gyration_radius,
    height_for_force,
    inertia_for,
    mechanical_capacity,
    motor_power,
    rated_torque,
    recovery_time,
    slide_height,
    slide_speed,
    slowdown_for,
    speed_after,
    usable_energy,
)
from pressfuncs.errors import Impossible, OutOfRange

STROKES = st.floats(10, 1000)
ROD_RATIOS = st.floats(0.55, 12)  # rod over stroke; the least that turns is just above 0.5
PLACES = st.floats(0, 1)
RATED_PLACES = st.floats(0.01, 0.3)

PRESS = {"rated_force": 1e6, "rated_height": 6.0, "stroke": 100.0, "rod": 400.0}


@cache
def symbolic(order):
    """Return the slide position above the bottom, differentiated `order` times by the crank angle."""
    theta, stroke, rod = sympy.symbols("theta stroke rod", positive=True)
    radius = stroke / 2
    position = radius + rod - radius * sympy.cos(theta) - sympy.sqrt(rod**2 - radius**2 * sympy.sin(theta) ** 2)
    return sympy.lambdify((theta, stroke, rod), sympy.diff(position, theta, order) if order else position, "math")


@given(STROKES, ROD_RATIOS, st.floats(-2 * math.pi, 2 * math.pi))
def test_slide_height_is_the_exact_position(stroke, ratio, angle):
    rod = ratio * stroke
    expected = symbolic(0)(angle, stroke, rod)
    assert slide_height(stroke, rod, angle) == pytest.approx(expected, rel=1e-9, abs=1e-12 * rod)


@given(STROKES, ROD_RATIOS, PLACES)
def test_crank_angle_and_height_are_each_others_inverse(stroke, ratio, place):
    rod, height = ratio * stroke, place * stroke
    angle = crank_angle_at(stroke, rod, height)
    assert 0 <= angle <= math.pi
    assert slide_height(stroke, rod, angle) == pytest.approx(height, rel=1e-11, abs=1e-13 * stroke)


@given(STROKES, ROD_RATIOS, st.floats(0.001, math.pi - 0.001), st.floats(0.1, 10))
def test_slide_speed_is_the_derivative_of_the_position(stroke, ratio, angle, rate):
    rod = ratio * stroke
    expected = symbolic(1)(angle, stroke, rod) * 2 * math.pi * rate
    found = slide_speed(stroke, rod, rate, min(slide_height(stroke, rod, angle), stroke))
    assert found == pytest.approx(expected, rel=1e-7)


@given(STROKES, ROD_RATIOS)
def test_slide_stands_still_at_bottom_and_top(stroke, ratio):
    rod = ratio * stroke
    assert slide_height(stroke, rod, 0.0) == 0.0
    assert slide_height(stroke, rod, math.pi) == pytest.approx(stroke, rel=1e-15)
    assert slide_speed(stroke, rod, 1.0, 0.0) == slide_speed(stroke, rod, 1.0, stroke) == 0.0


@given(STROKES, ROD_RATIOS)
def test_fastest_height_is_where_scipy_finds_the_highest_speed(stroke, ratio):
    rod = ratio * stroke
    best = minimize_scalar(
        lambda angle: -symbolic(1)(angle, stroke, rod),
        bounds=(0, math.pi),
        method="bounded",
        options={"xatol": 1e-10},
    )
    found = fastest_height(stroke, rod)
    assert slide_speed(stroke, rod, 1.0, found) == pytest.approx(-best.fun * 2 * math.pi, rel=1e-12)
    turning = symbolic(2)(crank_angle_at(stroke, rod, found), stroke, rod)
    assert turning == pytest.approx(0, abs=1e-6 * stroke)


def test_a_very_long_rod_moves_the_slide_like_a_sine():
    for degrees in range(0, 181, 15):
        angle = math.radians(degrees)
        assert slide_height(100, 1e9, angle) == pytest.approx(50 * (1 - math.cos(angle)), abs=1e-5)
    assert fastest_height(100, 1e9) == pytest.approx(50, abs=1e-5)


@given(STROKES, st.floats(1.5, 12), RATED_PLACES, PLACES)
def test_torque_times_angle_is_the_integral_of_force_over_slide_travel(stroke, ratio, rated_place, place):
    rod, rated_height = ratio * stroke, rated_place * stroke
    top = rated_height + place * (fastest_height(stroke, rod) - rated_height)
    assume(top > rated_height * 1.001)
    work = quad(lambda h: mechanical_capacity(1e6, rated_height, stroke, rod, h), rated_height, top, epsrel=1e-10)[
        0
    ]
    turned = brentq(lambda a: symbolic(0)(a, stroke, rod) - top, 0, math.pi, xtol=1e-14) - brentq(
        lambda a: symbolic(0)(a, stroke, rod) - rated_height, 0, math.pi, xtol=1e-14
    )
    assert work == pytest.approx(rated_torque(1e6, rated_height, stroke, rod) * turned, rel=1e-7)


@given(STROKES, ROD_RATIOS, RATED_PLACES, PLACES)
def test_capacity_never_exceeds_the_rating_nor_what_the_torque_gives(stroke, ratio, rated_place, place):
    rod, rated_height, height = ratio * stroke, rated_place * stroke, place * stroke
    force = mechanical_capacity(1e6, rated_height, stroke, rod, height)
    assert 0 < force <= 1e6
    if height <= rated_height:
        assert force == 1e6
    elif 0.001 < place < 0.999:
        lever = symbolic(1)(crank_angle_at(stroke, rod, height), stroke, rod)
        assert force * lever <= rated_torque(1e6, rated_height, stroke, rod) * (1 + 1e-7)


@given(STROKES, ROD_RATIOS, RATED_PLACES)
def test_capacity_is_exactly_the_rating_at_the_rated_height_and_at_the_bottom(stroke, ratio, rated_place):
    rod, rated_height = ratio * stroke, rated_place * stroke
    assert mechanical_capacity(1e6, rated_height, stroke, rod, rated_height) == 1e6
    assert mechanical_capacity(1e6, rated_height, stroke, rod, 0.0) == 1e6
    just_above = math.nextafter(rated_height, math.inf)
    assert mechanical_capacity(1e6, rated_height, stroke, rod, just_above) == pytest.approx(1e6, rel=1e-9)


@given(STROKES, ROD_RATIOS, RATED_PLACES, PLACES, PLACES)
def test_capacity_falls_with_height_up_to_the_fastest_slide(stroke, ratio, rated_place, first, second):
    rod, rated_height = ratio * stroke, rated_place * stroke
    fastest = fastest_height(stroke, rod)
    lower, higher = sorted((first * fastest, second * fastest))
    below = mechanical_capacity(1e6, rated_height, stroke, rod, lower)
    assert below >= mechanical_capacity(1e6, rated_height, stroke, rod, higher) * (1 - 1e-12)


@given(STROKES, st.floats(2, 12), RATED_PLACES, st.floats(0.5, 1))
def test_above_half_of_the_stroke_the_capacity_stays(stroke, ratio, rated_place, place):
    rod, rated_height = ratio * stroke, rated_place * stroke
    half = mechanical_capacity(1e6, rated_height, stroke, rod, stroke / 2)
    assert mechanical_capacity(1e6, rated_height, stroke, rod, place * stroke) == half


@given(STROKES, st.floats(0.51, 1.0), RATED_PLACES, st.floats(0.5, 1))
def test_above_half_of_the_stroke_a_short_rod_gives_no_more_either(stroke, ratio, rated_place, place):
    rod, rated_height = ratio * stroke, rated_place * stroke
    half = mechanical_capacity(1e6, rated_height, stroke, rod, stroke / 2)
    assert mechanical_capacity(1e6, rated_height, stroke, rod, place * stroke) <= half


@given(STROKES, ROD_RATIOS, RATED_PLACES, PLACES, st.floats(0.1, 10))
def test_capacity_scales_with_the_rating_and_not_with_the_size_of_the_press(
    stroke, ratio, rated_place, place, scale
):
    rod, rated_height, height = ratio * stroke, rated_place * stroke, place * stroke
    force = mechanical_capacity(1e6, rated_height, stroke, rod, height)
    assert mechanical_capacity(scale * 1e6, rated_height, stroke, rod, height) == pytest.approx(scale * force)
    grown = [scale * length for length in (rated_height, stroke, rod, height)]
    assume(grown[3] <= grown[1])
    assert mechanical_capacity(1e6, *grown) == pytest.approx(force, rel=1e-9)


@given(STROKES, ROD_RATIOS, RATED_PLACES, st.floats(0.05, 1))
def test_height_for_force_is_the_last_height_that_gives_the_force(stroke, ratio, rated_place, share):
    rod, rated_height = ratio * stroke, rated_place * stroke
    assume(rated_height < fastest_height(stroke, rod))
    height = height_for_force(1e6, rated_height, stroke, rod, share * 1e6)
    assert rated_height <= height <= stroke
    for place in np.linspace(0, height, 40):
        assert mechanical_capacity(1e6, rated_height, stroke, rod, float(place)) >= share * 1e6 * (1 - 1e-12)
    if height < stroke:
        above = min(height * (1 + 1e-6), fastest_height(stroke, rod))
        assert mechanical_capacity(1e6, rated_height, stroke, rod, above) <= share * 1e6 * (1 + 1e-12)


def test_height_for_force_finds_the_lower_of_two_crossings():
    fastest = fastest_height(100, 400)
    least = mechanical_capacity(**PRESS, height=fastest)
    half = mechanical_capacity(**PRESS, height=50.0)
    assert least < half
    assert height_for_force(**PRESS, force=(least + half) / 2) < fastest
    assert height_for_force(**PRESS, force=least * (1 - 1e-9)) == 100.0


def test_height_for_the_whole_rating_is_the_rated_height():
    assert height_for_force(**PRESS, force=1e6) == pytest.approx(6.0, rel=1e-12)
    with pytest.raises(Impossible, match="gives it at no height"):
        height_for_force(**PRESS, force=1e6 + 1)


def test_curve_holds_bottom_rated_height_and_top_and_agrees_with_the_function():
    rows = capacity_curve(**PRESS, points=40)
    heights = [height for height, _ in rows]
    assert len(rows) == 40
    assert (heights[0], heights[1], heights[-1]) == (0.0, 6.0, 100.0)
    assert heights == sorted(set(heights))
    assert all(force == mechanical_capacity(**PRESS, height=height) for height, force in rows)


def test_shortest_curve_has_three_rows():
    assert [height for height, _ in capacity_curve(**PRESS, points=3)] == [0.0, 6.0, 100.0]


@pytest.mark.parametrize("points", [2, 1001, 10.5])
def test_curve_refuses_other_numbers_of_rows(points):
    with pytest.raises(OutOfRange, match="points"):
        capacity_curve(**PRESS, points=points)


@pytest.mark.parametrize("rod", [50.0, 40.0])
def test_rod_no_longer_than_the_crank_radius_is_refused(rod):
    calls = [
        lambda: slide_height(100, rod, 0.5),
        lambda: crank_angle_at(100, rod, 10),
        lambda: slide_speed(100, rod, 1, 10),
        lambda: fastest_height(100, rod),
        lambda: rated_torque(1e6, 6, 100, rod),
        lambda: mechanical_capacity(1e6, 6, 100, rod, 10),
        lambda: height_for_force(1e6, 6, 100, rod, 5e5),
        lambda: capacity_curve(1e6, 6, 100, rod),
    ]
    for call in calls:
        with pytest.raises(Impossible, match=f"rod {rod:g} mm is not longer than the crank radius"):
            call()


def test_heights_above_the_stroke_are_refused_and_the_top_is_not():
    for call in (
        lambda height: crank_angle_at(100, 400, height),
        lambda height: slide_speed(100, 400, 1, height),
        lambda height: mechanical_capacity(**PRESS, height=height),
    ):
        assert call(100.0) >= 0
        with pytest.raises(Impossible, match=r"height 100\.1 mm is above the top of the stroke 100 mm"):
            call(100.1)
        with pytest.raises(OutOfRange, match="height must not be less than 0"):
            call(-0.1)


def test_a_rating_above_half_of_the_stroke_is_refused_and_at_half_is_not():
    assert mechanical_capacity(1e6, 50.0, 100.0, 400.0, 50.0) == 1e6
    high = {**PRESS, "rated_height": 50.1}
    for call in (
        lambda: rated_torque(**high),
        lambda: mechanical_capacity(**high, height=10.0),
        lambda: height_for_force(**high, force=5e5),
        lambda: capacity_curve(**high),
    ):
        with pytest.raises(Impossible, match=r"rated_height 50\.1 mm is above half of the stroke"):
            call()


@pytest.mark.parametrize("name", PRESS)
@pytest.mark.parametrize("wrong", [0.0, -1.0])
def test_every_figure_of_the_press_must_be_greater_than_0(name, wrong):
    press = {**PRESS, name: wrong}
    for call in (
        lambda: rated_torque(**press),
        lambda: mechanical_capacity(**press, height=0.0),
        lambda: height_for_force(**press, force=5e5),
        lambda: capacity_curve(**press),
    ):
        with pytest.raises(OutOfRange, match=f"{name} must be greater than 0"):
            call()


def test_more_than_a_turn_is_refused():
    assert slide_height(100, 400, 2 * math.pi) == pytest.approx(0, abs=1e-12)
    with pytest.raises(OutOfRange, match="crank_angle"):
        slide_height(100, 400, 6.3)


def test_slide_columns_give_what_a_loop_gives():
    heights = np.array([0.0, 3.0, 6.0, 12.7, 49.0, 50.0, 80.0, 100.0])
    forces = np.array([1e6, 9e5, 6e5, 4.975e5, 3e5])
    np.testing.assert_allclose(
        mechanical_capacity(1e6, 6.0, 100.0, 400.0, heights),
        [mechanical_capacity(**PRESS, height=float(height)) for height in heights],
        rtol=1e-14,
    )
    np.testing.assert_allclose(
        height_for_force(1e6, 6.0, 100.0, 400.0, forces),
        [height_for_force(**PRESS, force=float(force)) for force in forces],
        rtol=1e-13,
    )
    np.testing.assert_allclose(
        crank_angle_at(100.0, 400.0, heights),
        [crank_angle_at(100.0, 400.0, float(h)) for h in heights],
        rtol=1e-14,
    )
    strokes, rods = np.array([50.0, 100.0, 600.0]), np.array([200.0, 300.0, 1000.0])
    np.testing.assert_allclose(
        fastest_height(strokes, rods),
        [fastest_height(float(s), float(r)) for s, r in zip(strokes, rods, strict=True)],
        rtol=1e-13,
    )


def test_one_height_too_high_in_a_column_marks_its_row():
    with pytest.raises(Impossible) as refused:
        mechanical_capacity(1e6, 6.0, 100.0, 400.0, np.array([10.0, 120.0]))
    assert refused.value.bad.tolist() == [False, True]


@given(st.floats(20, 500), st.floats(10, 400), st.integers(1, 4))
def test_crankshaft_guess_goes_with_the_square_of_the_diameter(diameter, strength, bearings):
    force = crankshaft_capacity(strength, diameter, float(bearings))
    area = quad(lambda r: 2 * math.pi * r, 0, diameter / 2)[0]
    assert force == pytest.approx(bearings * strength * area, rel=1e-9)


def test_crankshaft_guess_refuses_half_bearings():
    with pytest.raises(OutOfRange, match="bearings must be a whole number"):
        crankshaft_capacity(60, 100, 1.5)


@given(st.floats(100, 3000), st.floats(0, 0.99))
def test_radius_of_gyration_is_the_integral_over_the_ring(outer, share):
    inner = outer * share
    second = quad(lambda r: r**3, inner / 2, outer / 2)[0]
    area = quad(lambda r: r, inner / 2, outer / 2)[0]
    assert gyration_radius(outer, inner) == pytest.approx(math.sqrt(second / area), rel=1e-9)


def test_ring_without_a_rim_is_refused():
    with pytest.raises(Impossible, match="inner_diameter 900 mm is not smaller"):
        gyration_radius(900, 900)


@given(st.floats(1e6, 1e10), st.floats(1, 200), st.floats(0.01, 1))
def test_usable_energy_is_the_difference_of_the_energies_before_and_after(inertia, speed, slowdown):
    energy = flywheel_energy(inertia, speed)
    after = 0.0 if slowdown == 1 else flywheel_energy(inertia, max(speed * (1 - slowdown), 1e-300))
    assert usable_energy(energy, slowdown) == pytest.approx(energy - after, rel=1e-9)


@given(st.floats(1e6, 1e10), st.floats(1, 200), st.floats(0.001, 0.999))
def test_speed_slowdown_and_inertia_agree_with_one_another(inertia, speed, slowdown):
    energy = flywheel_energy(inertia, speed)
    taken = usable_energy(energy, slowdown)
    assert slowdown_for(energy, taken) == pytest.approx(slowdown, rel=1e-9)
    assert speed_after(speed, energy, taken) == pytest.approx(speed * (1 - slowdown), rel=1e-9)
    assert inertia_for(taken, speed, slowdown) == pytest.approx(inertia, rel=1e-9)


def test_flywheel_energy_is_the_work_of_a_torque_up_to_speed():
    inertia = flywheel_inertia(mass=2.5, radius_of_gyration=1000)
    work = quad(lambda omega: inertia * omega, 0, 6)[0]
    assert flywheel_energy(inertia, 6) == pytest.approx(work, rel=1e-12)


def test_a_stroke_may_take_all_the_energy_and_no_more():
    assert speed_after(30, 1e6, 1e6) == 0.0
    assert slowdown_for(1e6, 1e6) == 1.0
    assert slowdown_for(1e6, 0.0) == 0.0
    for call in (lambda: speed_after(30, 1e6, 1.001e6), lambda: slowdown_for(1e6, 1.001e6)):
        with pytest.raises(Impossible, match="more than the flywheel holds"):
            call()


@given(st.floats(1e3, 1e8), st.floats(0.1, 10), st.floats(0.1, 1))
def test_motor_recovers_the_energy_within_one_stroke(energy, rate, efficiency):
    power = motor_power(energy, rate, efficiency)
    assert recovery_time(energy, power, efficiency) == pytest.approx(1 / rate, rel=1e-12)


def test_flywheel_speed_in_turns_a_minute():
    assert flywheel_speed(50 / 60, 6) * 60 / (2 * math.pi) == pytest.approx(300, rel=1e-12)


@pytest.mark.parametrize("wrong", [0.0, -1.0])
def test_flywheel_and_motor_refuse_what_is_not_greater_than_0(wrong):
    for function, names in (
        (gyration_radius, ("outer_diameter",)),
        (flywheel_inertia, ("mass", "radius_of_gyration")),
        (flywheel_speed, ("rate", "gear_ratio")),
        (flywheel_energy, ("inertia", "speed")),
        (motor_power, ("energy_per_stroke", "rate")),
        (recovery_time, ("energy_taken", "power")),
        (crankshaft_capacity, ("shear_strength", "bearing_diameter")),
    ):
        for name in names:
            arguments = {**dict.fromkeys(names, 1.0), name: wrong}
            if function is crankshaft_capacity:
                arguments["bearings"] = 2.0
            with pytest.raises(OutOfRange, match=f"{name} must be greater than 0"):
                function(**arguments)
    with pytest.raises(OutOfRange, match="speed"):
        inertia_for(1e6, wrong, 0.1)
    with pytest.raises(OutOfRange, match="energy"):
        usable_energy(wrong, 0.1)
    with pytest.raises(OutOfRange, match="speed"):
        speed_after(wrong, 1e6, 1e5)


@pytest.mark.parametrize("percent", [10.0, 0.0, -0.1])
def test_shares_in_percent_are_refused(percent):
    for call in (
        lambda: usable_energy(1e6, percent),
        lambda: inertia_for(1e6, 30, percent),
        lambda: motor_power(1e6, 1, percent),
        lambda: recovery_time(1e6, 1e6, percent),
    ):
        with pytest.raises(OutOfRange, match=r"10 % is 0\.1"):
            call()


def test_negative_energies_and_diameters_are_refused():
    for call in (
        lambda: speed_after(30, 1e6, -1.0),
        lambda: slowdown_for(1e6, -1.0),
        lambda: gyration_radius(900, -1.0),
    ):
        with pytest.raises(OutOfRange, match="must not be less than 0"):
            call()


def test_a_rating_past_the_fastest_slide_is_not_exceeded_either():
    assert fastest_height(100, 400) < 49
    assert mechanical_capacity(1e6, 49.0, 100.0, 400.0, 50.0) == 1e6
    assert height_for_force(1e6, 49.0, 100.0, 400.0, 1e6) == 100.0


def test_press_may_be_rated_up_to_exactly_half_of_its_stroke():
    assert rated_torque(1000, 50, 100, 400) > 0
    assert rated_torque(1000, 45, 100, 400) > 0
    assert height_for_force(1000, 50, 100, 400, 1000) >= 50
    assert height_for_force(1000, 45, 100, 400, 1000) >= 45
    assert capacity_curve(1000, 50, 100, 400, 5)[1] == (50, 1000)
    assert capacity_curve(1000, 45, 100, 400, 5)[1] == (45, 1000)


def test_curve_is_given_for_a_short_connecting_rod():
    assert capacity_curve(1000, 6, 100, 100, 5)[-1][0] == 100


def test_rounding_at_the_top_gives_half_a_turn():
    assert crank_angle_at(100, 50.00000003, 100) == math.pi


def test_a_flywheel_on_the_crankshaft_and_a_motor_with_losses_are_meant_when_left_blank():
    assert flywheel_speed(rate=2) == flywheel_speed(rate=2, gear_ratio=1)
    assert motor_power(1e7, 1) == motor_power(1e7, 1, 0.6) > motor_power(1e7, 1, 1)
    assert recovery_time(1e7, 1e7) == recovery_time(1e7, 1e7, 0.6) > recovery_time(1e7, 1e7, 1)
