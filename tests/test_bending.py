"""The bending chapter: both conventions of each rule, springback from the bending moment, boundaries, refusals."""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from scipy.integrate import quad

from pressfuncs import (
    air_bend_radius,
    bend_allowance,
    bend_deduction,
    bend_k,
    flat_length,
    outside_setback,
    smallest_bend_radius,
    smallest_die_opening,
    smallest_leg,
    springback_radius,
    u_bending_force,
    v_bend_factor,
    v_bending_force,
    wipe_bending_force,
    wipe_die_opening,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice

THICKNESSES = st.floats(0.2, 20)
RADII = st.floats(0, 100)
ANGLES = st.floats(0, math.pi)
SHARES = st.floats(0.05, 1)

FORCES = [
    partial(v_bending_force, factor=1.33),
    wipe_bending_force,
    partial(u_bending_force, factor=0.67, pad_force=0),
]


@pytest.mark.parametrize("function", FORCES)
@given(st.floats(1, 4000), THICKNESSES, st.floats(50, 1500), st.floats(2, 20))
def test_force_goes_with_width_and_strength_and_the_square_of_the_thickness(
    function, width, thickness, uts, ratio
):
    opening = ratio * thickness * 2
    force = function(width, thickness, uts, opening)
    assert function(2 * width, thickness, uts, opening) == pytest.approx(2 * force, rel=1e-12)
    assert function(width, thickness, 2 * uts, opening) == pytest.approx(2 * force, rel=1e-12)
    assert function(width, 2 * thickness, uts, opening) == pytest.approx(4 * force, rel=1e-12)
    assert function(width, thickness, uts, 2 * opening) == pytest.approx(force / 2, rel=1e-12)


@given(THICKNESSES, st.floats(1.5, 30))
def test_the_two_conventions_of_the_v_bend_meet_at_twelve_times_the_thickness(thickness, ratio):
    factor = v_bend_factor(thickness, ratio * thickness)
    assert factor == pytest.approx(1 + 4 / ratio, rel=1e-12)
    assert (factor > 4 / 3) == (ratio < 12) or ratio == pytest.approx(12)


def test_plastic_moment_of_the_sheet_lies_below_the_force_of_the_air_bend():
    # Three-point bending of an ideally plastic strip: F = 4 M / D with M = UTS * w * t^2 / 4.
    moment = 2 * quad(lambda y: 400 * 1000 * y, 0, 1)[0]
    assert v_bending_force(1000, 2, 400, 16, factor=1.0) == pytest.approx(4 * moment / 16, rel=1e-12)
    assert v_bending_force(1000, 2, 400, 16) > 4 * moment / 16


@given(THICKNESSES, st.floats(1.5, 30))
def test_a_blank_factor_is_the_larger_of_both_conventions(thickness, ratio):
    press = (1000, thickness, 400, ratio * thickness)
    both = v_bending_force(*press, v_bend_factor(thickness, ratio * thickness)), v_bending_force(*press, 1.33)
    assert v_bending_force(*press) == max(both)
    assert (both[0] > both[1]) == (1 + 4 / ratio > 1.33) or ratio == pytest.approx(4 / 0.33)


def test_a_blank_factor_gives_one_eighth_more_than_the_fixed_one_at_eight_times_the_thickness():
    assert v_bending_force(1000, 2, 400, 16) / v_bending_force(1000, 2, 400, 16, 1.33) == pytest.approx(1.5 / 1.33)


def test_channel_takes_two_wiped_edges_and_the_pad():
    edge = wipe_bending_force(1000, 2, 400, 8)
    assert u_bending_force(1000, 2, 400, 8, 0.67, 0) == pytest.approx(2 * edge, rel=0.02)
    assert u_bending_force(1000, 2, 400, 8, 0.67, 40e3) == u_bending_force(1000, 2, 400, 8, 0.67, 0) + 40e3


@pytest.mark.parametrize("function", FORCES)
def test_opening_must_be_wider_than_the_sheet(function):
    assert function(1000, 2, 400, 2.001) > 0
    with pytest.raises(Impossible, match="die_opening 2 mm is not wider than thickness 2 mm"):
        function(1000, 2, 400, 2.0)
    with pytest.raises(Impossible, match="not wider"):
        v_bend_factor(2, 2)


@pytest.mark.parametrize("wrong", [0.0, -1.0])
def test_bending_forces_refuse_what_is_not_greater_than_0(wrong):
    names = ("width", "thickness", "tensile_strength", "die_opening", "factor")
    good = dict(zip(names, (1000.0, 2.0, 400.0, 16.0, 1.33), strict=True))
    for function in FORCES:
        for name in names:
            with pytest.raises(OutOfRange, match=f"{name} must be greater than 0"):
                function(**{**good, name: wrong})
    with pytest.raises(OutOfRange, match="thickness"):
        v_bend_factor(wrong, 16)
    with pytest.raises(OutOfRange, match="pad_force"):
        u_bending_force(1000, 2, 400, 8, 0.67, -1)


@given(RADII, RADII, THICKNESSES)
def test_wipe_opening_is_the_sum_of_radii_and_gap(die_radius, punch_radius, clearance):
    assert wipe_die_opening(die_radius, punch_radius, clearance) == die_radius + punch_radius + clearance


def test_wipe_opening_takes_sharp_edges_and_refuses_no_gap():
    assert wipe_die_opening(0, 0, 2) == 2
    with pytest.raises(OutOfRange, match="clearance"):
        wipe_die_opening(3, 3, 0)
    with pytest.raises(OutOfRange, match="die_radius"):
        wipe_die_opening(-1, 3, 2)


def test_multiples_for_opening_leg_and_radius():
    assert smallest_die_opening(3, 8) == 24
    assert smallest_die_opening(3, 12) == 36
    assert smallest_leg(24, 0.5) == 12
    assert air_bend_radius(100, 0.2) == 20


@pytest.mark.parametrize(
    ("call", "error"),
    [
        (lambda: smallest_die_opening(3, 1.0), Impossible),
        (lambda: smallest_die_opening(0, 8), OutOfRange),
        (lambda: smallest_leg(24, 0.49), Impossible),
        (lambda: smallest_leg(0, 0.7), OutOfRange),
        (lambda: air_bend_radius(100, 16), OutOfRange),
        (lambda: air_bend_radius(0), OutOfRange),
    ],
)
def test_multiples_that_cannot_be_are_refused(call, error):
    with pytest.raises(error):
        call()


@given(ANGLES, RADII, THICKNESSES, SHARES)
def test_allowance_is_the_length_of_the_neutral_line(angle, radius, thickness, k_factor):
    line = quad(
        lambda a: math.hypot(*(-(radius + k_factor * thickness) * x for x in (math.sin(a), math.cos(a)))), 0, angle
    )
    assert bend_allowance(angle, radius, thickness, k_factor) == pytest.approx(line[0], rel=1e-9, abs=1e-12)


@given(ANGLES, RADII, THICKNESSES, SHARES)
def test_bend_angle_and_included_angle_say_the_same(angle, radius, thickness, k_factor):
    arguments = radius, thickness, k_factor
    included = bend_allowance(math.pi - angle, *arguments, "included")
    assert included == pytest.approx(bend_allowance(angle, *arguments), rel=1e-9, abs=1e-9)
    assume(angle < 2.9)
    for function in (bend_deduction, lambda a, r, t, _, m="bend": outside_setback(a, r, t, m)):
        by_legs = function(math.pi - angle, *arguments, "included")
        assert by_legs == pytest.approx(function(angle, *arguments), rel=1e-9, abs=1e-9)


@given(st.floats(0.01, 2.9), RADII, THICKNESSES, SHARES)
def test_setback_is_where_the_two_outer_faces_cross(angle, radius, thickness, k_factor):
    outer = radius + thickness
    faces = np.array([[1.0, -math.cos(angle)], [0.0, -math.sin(angle)]])
    end_of_bend = np.array([outer * math.sin(angle), outer * (1 - math.cos(angle))])
    setback = np.linalg.solve(faces, end_of_bend)[0]
    assert outside_setback(angle, radius, thickness) == pytest.approx(setback, rel=1e-6)
    deduction = 2 * setback - bend_allowance(angle, radius, thickness, k_factor)
    assert bend_deduction(angle, radius, thickness, k_factor) == pytest.approx(
        deduction, rel=1e-6, abs=1e-6 * outer
    )


@given(st.floats(0, 2.96), RADII, THICKNESSES, SHARES)
def test_a_bend_never_lengthens_the_sum_of_outside_sizes(angle, radius, thickness, k_factor):
    assert bend_deduction(angle, radius, thickness, k_factor) >= -1e-12 * (radius + thickness)


@given(st.floats(0.1, 2.5), st.floats(0, 20), st.floats(0.5, 6), SHARES)
def test_both_conventions_of_the_legs_give_the_same_blank(angle, radius, thickness, k_factor):
    setback = outside_setback(angle, radius, thickness)
    allowance = bend_allowance(angle, radius, thickness, k_factor)
    deduction = bend_deduction(angle, radius, thickness, k_factor)
    straight = [50.0, 80.0, 30.0]
    outside = [50.0 + setback, 80.0 + 2 * setback, 30.0 + setback]
    by_tangents = flat_length(straight, [allowance, allowance, 0.0])
    by_corners = flat_length(outside, [max(deduction, 0.0)] * 2 + [0.0], "outside")
    assert by_corners == pytest.approx(by_tangents, rel=1e-9)


def test_a_flat_piece_needs_no_allowance():
    assert bend_allowance(0.0, 3, 2, 0.4) == 0
    assert outside_setback(0.0, 3, 2) == 0
    assert bend_deduction(0.0, 3, 2, 0.4) == 0
    assert flat_length([100.0], [0.0]) == 100


def test_folds_beyond_170_degrees_have_no_setback():
    angle = math.radians(170)
    assert outside_setback(angle, 3, 2) == pytest.approx(5 * math.tan(angle / 2))
    for call in (
        lambda: outside_setback(angle + 1e-6, 3, 2),
        lambda: bend_deduction(angle + 1e-6, 3, 2, 0.4),
        lambda: outside_setback(0.1, 3, 2, "included"),
    ):
        with pytest.raises(Impossible, match="folds the sheet too far"):
            call()


@pytest.mark.parametrize("angle", [-0.001, math.pi + 0.001])
def test_angles_outside_half_a_turn_are_refused(angle):
    for call in (
        lambda: bend_allowance(angle, 3, 2, 0.4),
        lambda: bend_deduction(angle, 3, 2, 0.4),
        lambda: outside_setback(angle, 3, 2),
    ):
        with pytest.raises(OutOfRange, match="angle"):
            call()


def test_bends_refuse_negative_radius_no_thickness_and_k_beyond_the_sheet():
    for function in (bend_allowance, bend_deduction):
        with pytest.raises(OutOfRange, match="radius"):
            function(1, -1, 2, 0.4)
        with pytest.raises(OutOfRange, match="thickness"):
            function(1, 3, 0, 0.4)
        for k_factor in (0.0, 1.01, 33.0):
            with pytest.raises(OutOfRange, match="k_factor"):
                function(1, 3, 2, k_factor)
        with pytest.raises(WrongChoice, match="bend, included"):
            function(1, 3, 2, 0.4, "inside")
    with pytest.raises(OutOfRange, match="radius"):
        outside_setback(1, -1, 2)


def test_k_steps_exactly_at_twice_the_thickness():
    assert bend_k(math.nextafter(4.0, 0), 2) == 0.33
    assert bend_k(4.0, 2) == 0.50


def test_din_curve_is_half_of_the_standards_k_and_levels_off_at_the_middle():
    assert bend_k(2, 2, "din") == pytest.approx(0.65 / 2)
    assert bend_k(10, 2, "din") == pytest.approx(0.5, abs=0.0005)
    assert bend_k(100, 2, "din") == 0.5
    assert bend_k(1.3, 2, "din") == pytest.approx((0.65 + math.log10(0.65) / 2) / 2)
    with pytest.raises(Impossible, match="the din rule does not reach so far"):
        bend_k(1.29, 2, "din")


@given(st.floats(0.65, 50), st.floats(0.65, 50))
def test_din_curve_never_falls(first, second):
    lower, higher = sorted((first, second))
    assert bend_k(lower, 1, "din") <= bend_k(higher, 1, "din") <= 0.5


def test_k_refuses_no_radius_and_other_rules():
    with pytest.raises(OutOfRange, match="radius"):
        bend_k(0, 2)
    with pytest.raises(WrongChoice, match="two steps, din"):
        bend_k(2, 2, "ansi")


def test_flat_length_refuses_what_cannot_be():
    with pytest.raises(OutOfRange, match="legs number 2"):
        flat_length([40, 0], [5, 0])
    with pytest.raises(OutOfRange, match="bends number 1"):
        flat_length([40, 40], [-5, 0])
    with pytest.raises(Impossible, match="take away more"):
        flat_length([5, 5], [10, 0], "outside")
    with pytest.raises(WrongChoice, match="tangent, outside"):
        flat_length([5, 5], [1, 0], "inside")


@given(THICKNESSES, SHARES)
def test_outer_fibre_at_the_smallest_radius_strains_as_the_tensile_test_did(thickness, reduction):
    radius = smallest_bend_radius(thickness, reduction)
    if reduction < 0.5:
        # True strain of the outer fibre equals that at fracture: ln((R + t) / (R + t / 2)) = ln(1 / (1 - r)).
        stretched = (radius + thickness) / (radius + thickness / 2)
        assert stretched == pytest.approx(1 / (1 - reduction), rel=1e-9)
    else:
        assert radius == 0


@given(st.floats(1, 200), st.floats(0.3, 5), st.floats(50, 900), st.floats(60e3, 215e3))
def test_springback_is_elastic_unloading_of_the_elastic_plastic_moment(radius, thickness, yield_strength, modulus):
    elastic = radius * yield_strength / modulus
    assume(elastic < 0.45 * thickness)
    core = quad(lambda y: modulus * y / radius * y, 0, elastic)[0]
    rim = quad(lambda y: yield_strength * y, elastic, thickness / 2)[0]
    after = 1 / radius - 2 * (core + rim) / (modulus * thickness**3 / 12)
    assert springback_radius(radius, thickness, yield_strength, modulus) == pytest.approx(1 / after, rel=1e-6)


@given(st.floats(1, 20), st.floats(0.3, 5), st.floats(50, 900))
def test_springback_always_opens_the_bend(radius, thickness, yield_strength):
    assume(radius * yield_strength / (200e3 * thickness) < 0.49)
    assert springback_radius(radius, thickness, yield_strength, 200e3) > radius


def test_elastic_bends_spring_back_flat():
    assert springback_radius(499, 1, 200, 200e3) > 1e5
    with pytest.raises(Impossible, match="springs back flat"):
        springback_radius(500, 1, 200, 200e3)


def test_springback_and_smallest_radius_refuse_what_is_not_greater_than_0():
    for place in range(4):
        values = [50.0, 1.5, 300.0, 205e3]
        values[place] = 0.0
        with pytest.raises(OutOfRange, match="must be greater than 0"):
            springback_radius(*values)
    with pytest.raises(OutOfRange, match="thickness"):
        smallest_bend_radius(0, 0.2)
    with pytest.raises(OutOfRange, match=r"10 % is 0\.1"):
        smallest_bend_radius(2, 20)


def test_a_column_gives_what_a_loop_gives():
    radii, thicknesses = np.array([2.0, 4.0, 30.0]), np.array([2.0, 2.0, 3.0])
    angles, shares = np.array([0.5, 1.0, 1.5]), np.array([0.3, 0.4, 0.5])
    for function, columns in (
        (bend_k, (radii, thicknesses)),
        (lambda r, t: bend_k(r, t, "din"), (radii, thicknesses)),
        (bend_allowance, (angles, radii, thicknesses, shares)),
        (bend_deduction, (angles, radii, thicknesses, shares)),
        (outside_setback, (angles, radii, thicknesses)),
        (v_bend_factor, (thicknesses, 10 * thicknesses)),
        (smallest_bend_radius, (thicknesses, shares)),
        (springback_radius, (radii, thicknesses, 300 * shares, 200e3 + radii)),
        (v_bending_force, (radii, thicknesses, 300 * shares, 10 * thicknesses)),
        (u_bending_force, (radii, thicknesses, 300 * shares, 10 * thicknesses, shares, 1000 * shares)),
    ):
        expected = [function(*(float(value) for value in row)) for row in zip(*columns, strict=True)]
        np.testing.assert_allclose(function(*columns), expected, rtol=1e-14)


def test_one_sharp_bend_in_a_column_marks_its_row():
    with pytest.raises(Impossible) as refused:
        bend_k(np.array([1.0, 2.0]), 2.0, "din")
    assert refused.value.bad.tolist() == [True, False]


def test_a_die_a_little_wider_than_the_sheet_is_taken():
    assert smallest_die_opening(thickness=3, ratio=1.5) == 4.5


def test_bend_is_taken_up_to_exactly_170_degrees():
    for function, rest in ((outside_setback, ()), (bend_deduction, (0.33,))):
        assert function(math.pi * 170 / 180, 3, 2, *rest) > 0
        assert function(math.radians(169.5), 3, 2, *rest) > 0
        with pytest.raises(Impossible, match="folds the sheet too far"):
            function(math.radians(170.1), 3, 2, *rest)
