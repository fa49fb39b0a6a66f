"""The drawing chapter: blanks from surfaces of revolution, series of draws, forces, boundaries, refusals."""

from __future__ import annotations

import math
from functools import partial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from pressfuncs import (
    blank_holder_force,
    blank_holder_force_by_pressure,
    coining_force,
    cup_blank_diameter,
    cup_height,
    cup_tearing_force,
    draw_clearance,
    draw_die_radius,
    draw_ratio,
    draw_reduction,
    drawing_energy,
    drawing_force,
    drawn_diameter,
    draws_needed,
    flanged_cup_blank_diameter,
    thickness_ratio,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice

DIAMETERS = st.floats(5, 1000)
RATIOS = st.floats(1.01, 2.5)
SHARES = st.floats(0, 1)

CUP = {"cup_diameter": 75.0, "thickness": 2.4, "tensile_strength": 300.0, "blank_diameter": 138.0}
HOLDER = {
    "yield_strength": 175.0,
    "blank_diameter": 138.0,
    "cup_diameter": 75.0,
    "thickness": 2.4,
    "die_radius": 6.0,
}


def cup_surface(diameter, height, corner):
    """Return the surface of a cup: flat bottom, quarter torus and wall, each integrated."""
    inner = diameter / 2 - corner
    bottom = quad(lambda r: 2 * math.pi * r, 0, inner)[0]
    torus = quad(lambda a: 2 * math.pi * (inner + corner * math.sin(a)) * corner, 0, math.pi / 2)[0]
    return bottom + torus + math.pi * diameter * (height - corner)


@given(DIAMETERS, st.floats(0.1, 3), SHARES)
def test_blank_has_the_area_of_the_cup(diameter, slenderness, share):
    height = slenderness * diameter
    corner = share * min(diameter / 2, height)
    blank = cup_blank_diameter(diameter, height, corner)
    assert math.pi / 4 * blank**2 == pytest.approx(cup_surface(diameter, height, corner), rel=1e-9)


@given(DIAMETERS, st.floats(0.1, 3), SHARES)
def test_cup_height_gives_the_height_back(diameter, slenderness, share):
    height = slenderness * diameter
    corner = share * min(diameter / 2, height)
    blank = cup_blank_diameter(diameter, height, corner)
    assert cup_height(blank, diameter, corner) == pytest.approx(height, rel=1e-9)


@given(DIAMETERS, st.floats(0.1, 3))
def test_a_round_corner_needs_a_smaller_blank(diameter, slenderness):
    height = slenderness * diameter
    corner = 0.2 * min(diameter, height)
    assert cup_blank_diameter(diameter, height, corner) < cup_blank_diameter(diameter, height)


def test_half_sphere_is_drawn_from_root_two_times_its_diameter():
    assert cup_blank_diameter(60, 30, 30) == pytest.approx(60 * math.sqrt(2), rel=1e-12)
    assert cup_height(60 * math.sqrt(2), 60, 30) == pytest.approx(30, rel=1e-12)


@given(DIAMETERS, st.floats(0.1, 3), st.floats(1, 3))
def test_flanged_blank_has_the_area_of_bottom_wall_and_flange(diameter, slenderness, flange):
    height, flange = slenderness * diameter, flange * diameter
    area = math.pi / 4 * flange**2 + math.pi * diameter * height
    assert flanged_cup_blank_diameter(flange, diameter, height) == pytest.approx(
        math.sqrt(4 / math.pi * area), rel=1e-9
    )


def test_flange_as_wide_as_the_cup_is_no_flange():
    assert flanged_cup_blank_diameter(50, 50, 100) == cup_blank_diameter(50, 100)
    with pytest.raises(Impossible, match="flange_diameter 49 mm is smaller"):
        flanged_cup_blank_diameter(49, 50, 100)


@pytest.mark.parametrize(
    "call",
    [
        lambda: cup_blank_diameter(60, 40, 30.1),
        lambda: cup_blank_diameter(60, 20, 20.1),
        lambda: cup_height(100, 60, 30.1),
        lambda: cup_height(61, 60, 30),
        lambda: cup_height(60, 60),
    ],
)
def test_cups_that_cannot_be_are_refused(call):
    with pytest.raises(Impossible):
        call()


def test_cup_without_size_is_refused():
    for call in (
        lambda: cup_blank_diameter(0, 10),
        lambda: cup_blank_diameter(10, 0),
        lambda: cup_blank_diameter(10, 10, -1),
        lambda: cup_height(0, 10),
        lambda: cup_height(20, 10, -1),
        lambda: flanged_cup_blank_diameter(20, 10, 0),
        lambda: thickness_ratio(0, 10),
        lambda: thickness_ratio(1, 0),
        lambda: draw_clearance(0),
        lambda: draw_clearance(1, 0),
    ):
        with pytest.raises(OutOfRange):
            call()


@given(DIAMETERS, RATIOS)
def test_ratio_and_reduction_say_the_same(cup, ratio):
    blank = cup * ratio
    assert draw_ratio(blank, cup) == pytest.approx(ratio, rel=1e-12)
    assert draw_reduction(blank, cup) == pytest.approx(1 - 1 / ratio, rel=1e-9)


@pytest.mark.parametrize("cup", [75.0, 80.0])
def test_a_blank_no_larger_than_the_cup_is_refused(cup):
    for call in (
        lambda: draw_ratio(75, cup),
        lambda: draw_reduction(75, cup),
        lambda: draws_needed(75, cup, [0.4]),
        lambda: drawing_force(cup, 2.4, 300, 75),
        lambda: draw_die_radius(75, cup, 2.4),
    ):
        with pytest.raises(Impossible, match=f"blank_diameter 75 mm is not larger than cup_diameter {cup:g} mm"):
            call()


STEPS = st.lists(st.floats(0.05, 0.5), min_size=1, max_size=5)


@given(STEPS, DIAMETERS, SHARES)
def test_draws_needed_is_the_least_number_that_reaches_the_cup(steps, blank, share):
    cup = blank * (0.2 + 0.75 * share)
    draws = draws_needed(blank, cup, steps)
    series = (steps + [steps[-1]] * draws)[:draws]
    assert drawn_diameter(blank, series) <= cup * (1 + 1e-9)
    if draws > 1:
        assert drawn_diameter(blank, series[:-1]) > cup


@given(STEPS, DIAMETERS, SHARES)
def test_reductions_and_ratios_give_the_same_draws(steps, blank, share):
    cup = blank * (0.2 + 0.75 * share)
    ratios = [1 / (1 - step) for step in steps]
    assert draws_needed(blank, cup, steps) == draws_needed(blank, cup, ratios, "ratio")
    expected = pytest.approx(drawn_diameter(blank, steps), rel=1e-12)
    assert drawn_diameter(blank, ratios, "ratio") == expected


@given(STEPS, DIAMETERS)
def test_a_cup_exactly_at_the_end_of_the_series_needs_the_series_and_no_more(steps, blank):
    cup = drawn_diameter(blank, steps)
    assert draws_needed(blank, cup, steps) == len(steps)
    assert draws_needed(blank, cup * (1 - 1e-6), steps) == len(steps) + 1


def test_percent_and_inverse_ratios_are_refused():
    for steps, given_as in (([45.0], "reduction"), ([1.0], "reduction"), ([0.55], "ratio"), ([1.0], "ratio")):
        with pytest.raises(Impossible, match="steps hold"):
            draws_needed(150, 50, steps, given_as)
        with pytest.raises(Impossible, match="steps hold"):
            drawn_diameter(150, steps, given_as)
    with pytest.raises(OutOfRange, match="steps number 2"):
        draws_needed(150, 50, [0.45, 0.0])
    with pytest.raises(WrongChoice, match="reduction, ratio"):
        draws_needed(150, 50, [0.45], "inverse")


def test_steps_too_small_to_arrive_are_refused():
    with pytest.raises(Impossible, match="not reached"):
        draws_needed(150, 50, [0.0001])


@given(DIAMETERS, st.floats(0.3, 6), st.floats(100, 1000), RATIOS)
def test_drawing_force_grows_with_the_blank_and_falls_with_the_constant(cup, thickness, strength, ratio):
    estimated = partial(drawing_force, tearing="estimate")
    force = estimated(cup, thickness, strength, cup * ratio, 0.7)
    assert estimated(cup, thickness, strength, cup * ratio * 1.05, 0.7) > force
    assert estimated(cup, thickness, strength, cup * ratio) > force
    assert estimated(cup, thickness, strength, cup * ratio) == estimated(
        cup, thickness, strength, cup * ratio, 0.6
    )
    assert estimated(cup, 2 * thickness, 3 * strength, cup * ratio, 0.7) == pytest.approx(6 * force, rel=1e-12)


@given(DIAMETERS, st.floats(0.3, 6), st.floats(100, 1000))
def test_drawing_force_equals_the_tearing_force_at_ratio_one_and_seven_tenths(cup, thickness, strength):
    tearing = cup_tearing_force(cup, thickness, strength)
    ring = quad(lambda a: strength * thickness * cup / 2, 0, 2 * math.pi)[0]
    assert tearing == pytest.approx(ring, rel=1e-9)
    assert drawing_force(cup, thickness, strength, 1.7 * cup, 0.7) == pytest.approx(tearing, rel=1e-9)


@given(DIAMETERS, st.floats(0.3, 6), st.floats(100, 1000), st.floats(1.01, 3))
def test_no_force_is_given_at_which_the_wall_tears_unless_an_estimate_is_asked_for(
    cup, thickness, strength, ratio
):
    draw, limit = (cup, thickness, strength, ratio * cup), cup_tearing_force(cup, thickness, strength)
    estimate = drawing_force(*draw, tearing="estimate")
    if estimate > limit * (1 + 1e-6):
        with pytest.raises(Impossible, match=r"the wall tears at .* draw in more steps"):
            drawing_force(*draw)
    elif estimate < limit:
        assert drawing_force(*draw) == drawing_force(*draw, 0.6, "refuse") == estimate


def test_a_draw_that_only_just_holds_is_given_and_one_that_only_just_tears_is_not():
    assert drawing_force(100, 1, 300, 160) == pytest.approx(math.pi * 100 * 300)
    with pytest.raises(Impossible, match=r"the draw takes 94248\.7\d+ N, and the wall tears at 94247\.7\d+ N"):
        drawing_force(100, 1, 300, 160.001)
    with pytest.raises(WrongChoice, match="refuse, estimate"):
        drawing_force(100, 1, 300, 160, 0.6, "cap")


@pytest.mark.parametrize("name", CUP)
def test_drawing_force_refuses_what_is_not_greater_than_0(name):
    with pytest.raises(OutOfRange, match=f"{name} must be greater than 0") as refused:
        drawing_force(**{**CUP, name: 0.0})
    assert refused.value.function == "drawing_force"
    if name != "blank_diameter":
        with pytest.raises(OutOfRange, match=f"{name} must be greater than 0"):
            cup_tearing_force(**{key: 0.0 if key == name else CUP[key] for key in list(CUP)[:3]})


@pytest.mark.parametrize("constant", [0.0, 70.0])
def test_constant_must_be_a_share(constant):
    with pytest.raises(OutOfRange, match="constant"):
        drawing_force(**CUP, constant=constant)


def test_holder_conventions_differ_by_pi_over_four():
    by_share = blank_holder_force(**HOLDER)
    opening = 75 + 2.2 * 2.4 + 2 * 6
    by_pressure = blank_holder_force_by_pressure(0.015 * 175, 138, opening)
    assert by_share == pytest.approx(4 * by_pressure, rel=1e-12)
    ring = quad(lambda r: 2 * math.pi * r, opening / 2, 69)[0]
    assert by_pressure == pytest.approx(0.015 * 175 * ring, rel=1e-9)


def test_holder_needs_a_ring_to_hold():
    with pytest.raises(Impossible, match="leaves nothing to hold"):
        blank_holder_force(**{**HOLDER, "blank_diameter": 75 + 2.2 * 2.4 + 2 * 6})
    with pytest.raises(Impossible, match="not larger than opening_diameter"):
        blank_holder_force_by_pressure(2.5, 100, 100)


@pytest.mark.parametrize("name", HOLDER)
def test_holder_refuses_what_cannot_be(name):
    with pytest.raises(OutOfRange, match=name):
        blank_holder_force(**{**HOLDER, name: -1.0})
    with pytest.raises(OutOfRange, match="pressure_share"):
        blank_holder_force(**HOLDER, pressure_share=1.5)
    for values in ((0, 138, 92), (2.5, 0, 92), (2.5, 138, 0)):
        with pytest.raises(OutOfRange):
            blank_holder_force_by_pressure(*values)


def test_drawing_energy_is_the_area_under_a_force_that_rises_and_falls():
    # A half sine has a mean of 2 / pi of its peak.
    work = quad(lambda s: 200e3 * math.sin(math.pi * s / 50) + 60e3, 0, 50)[0]
    assert drawing_energy(200e3, 50, 2 / math.pi, 60e3) == pytest.approx(work, rel=1e-9)


@pytest.mark.parametrize("arguments", [(0, 50, 0.75, 0), (1e5, 0, 0.75, 0), (1e5, 50, 75, 0), (1e5, 50, 0.75, -1)])
def test_drawing_energy_refuses_what_cannot_be(arguments):
    with pytest.raises(OutOfRange):
        drawing_energy(*arguments)


def test_edge_radius_grows_with_the_square_root_of_flange_and_sheet():
    assert draw_die_radius(175, 75, 4) == 16
    assert draw_die_radius(475, 75, 4) == 32
    with pytest.raises(OutOfRange, match="thickness"):
        draw_die_radius(175, 75, 0)


@given(st.floats(1, 1e5), st.floats(1, 3000))
def test_coining_force_is_area_times_pressure(area, pressure):
    assert coining_force(area, pressure) == area * pressure


@pytest.mark.parametrize("arguments", [(0, 1200), (500, 0), (-1, 1200)])
def test_coining_refuses_no_area_and_no_pressure(arguments):
    with pytest.raises(OutOfRange):
        coining_force(*arguments)


def test_a_column_gives_what_a_loop_gives():
    cups, blanks, thicknesses = (
        np.array([50.0, 75.0, 200.0]),
        np.array([90.0, 138.0, 350.0]),
        np.array([1.0, 2.4, 3]),
    )
    for function, columns in (
        (cup_blank_diameter, (cups, blanks, thicknesses)),
        (cup_height, (blanks, cups, thicknesses)),
        (flanged_cup_blank_diameter, (blanks, cups, cups)),
        (draw_ratio, (blanks, cups)),
        (draw_reduction, (blanks, cups)),
        (draw_die_radius, (blanks, cups, thicknesses)),
        (drawing_force, (cups, thicknesses, 3 * blanks, 1.5 * cups)),
        (blank_holder_force, (blanks, blanks, cups, thicknesses, 2 * thicknesses)),
        (blank_holder_force_by_pressure, (thicknesses, blanks, cups)),
        (drawing_energy, (1000 * blanks, cups, thicknesses / 4, blanks)),
    ):
        expected = [function(*(float(value) for value in row)) for row in zip(*columns, strict=True)]
        np.testing.assert_allclose(function(*columns), expected, rtol=1e-14)


def test_one_impossible_draw_in_a_column_marks_its_row():
    with pytest.raises(Impossible) as refused:
        draw_ratio(np.array([138.0, 70.0]), 75.0)
    assert refused.value.bad.tolist() == [False, True]


def test_blank_that_ends_with_the_corner_gives_a_cup_of_the_corner_alone():
    assert cup_height(blank_diameter=23.57050192215499, cup_diameter=20.5, corner_radius=3) == 3


def test_hundred_draws_are_the_most():
    assert draws_needed(100, 100 * 0.99**99.5, [0.01]) == 100
    with pytest.raises(Impossible, match="in 100 draws"):
        draws_needed(100, 100 * 0.99**100.5, [0.01])


def test_only_float_noise_is_no_further_draw():
    assert draws_needed(100, 50 * (1 - 1e-12), [0.5]) == 1
    assert draws_needed(100, 50 * (1 - 1e-7), [0.5]) == 2
