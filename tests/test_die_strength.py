"""Laws, boundaries and refusals of the die strength chapter, and punches and shoes against numeric beams."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from scipy.integrate import dblquad

from pressfuncs import (
    buckling_force,
    die_plate_thickness,
    longest_free_length,
    punch_stress,
    rectangle_second_moment,
    rectangular_punch_buckling_force,
    round_punch_buckling_force,
    round_second_moment,
    shoe_deflection,
    shoe_stress,
    smallest_hole,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice
from pressfuncs.functions.die_strength import EFFECTIVE_LENGTH

ENDS = ["free", "pinned", "guided", "fixed"]
STEEL = 210000.0

sizes = st.floats(0.5, 200)
strengths = st.floats(100, 4000)
every_ends = pytest.mark.parametrize("ends", ENDS)


def beam_matrices(parts: int) -> tuple[np.ndarray, np.ndarray]:
    """Return bending and thrust matrices of a beam of length 1 and stiffness 1, cut into equal parts.

    Unknowns are deflection and slope at each joint; the beam bends as a cubic between two joints.
    """
    h = 1.0 / parts
    bend = np.array([[12, 6 * h, -12, 6 * h], [6 * h, 4 * h * h, -6 * h, 2 * h * h]]) / h**3
    bend = np.vstack([bend, -bend[0], np.array([6 * h, 2 * h * h, -6 * h, 4 * h * h]) / h**3])
    thrust = np.array([[36, 3 * h, -36, 3 * h], [3 * h, 4 * h * h, -3 * h, -h * h]]) / (30 * h)
    thrust = np.vstack([thrust, -thrust[0], np.array([3 * h, -h * h, -3 * h, 4 * h * h]) / (30 * h)])
    all_bend, all_thrust = np.zeros((2, 2 * parts + 2, 2 * parts + 2))
    for part in range(parts):
        place = slice(2 * part, 2 * part + 4)
        all_bend[place, place] += bend
        all_thrust[place, place] += thrust
    return all_bend, all_thrust


def numeric_euler(ends: str) -> float:
    """Return the smallest thrust at which a beam of length 1 and stiffness 1 buckles."""
    parts = 24
    bend, thrust = beam_matrices(parts)
    head, tip = (0, 1), (2 * parts, 2 * parts + 1)
    held = {"free": head, "pinned": (head[0], tip[0]), "guided": (*head, tip[0]), "fixed": (*head, *tip)}[ends]
    moving = [i for i in range(2 * parts + 2) if i not in held]
    bend, thrust = bend[np.ix_(moving, moving)], thrust[np.ix_(moving, moving)]
    return float(min(np.linalg.eigvals(np.linalg.solve(thrust, bend)).real))


@every_ends
def test_slender_punch_buckles_at_the_eigenvalue_of_its_beam(ends):
    second_moment, area, length = round_second_moment(3), math.pi * 9 / 4, 400.0
    expected = numeric_euler(ends) * STEEL * second_moment / length**2
    assert buckling_force(second_moment, area, length, 2000, ends) == pytest.approx(expected, rel=1e-5)


def transition_length(second_moment: float, area: float, yield_strength: float, ends: str) -> float:
    """Return the free length at which Euler's stress is half the yield strength."""
    return math.pi / EFFECTIVE_LENGTH[ends] * math.sqrt(2 * STEEL * second_moment / (area * yield_strength))


@every_ends
@given(diameter=sizes, yield_strength=strengths)
def test_euler_and_johnson_meet_at_half_the_yield_strength(ends, diameter, yield_strength):
    second_moment, area = round_second_moment(diameter), math.pi * diameter**2 / 4
    length = transition_length(second_moment, area, yield_strength, ends)
    half = area * yield_strength / 2
    for near, tolerance in ((1.0, 1e-12), (1 - 1e-9, 1e-8), (1 + 1e-9, 1e-8)):
        force = buckling_force(second_moment, area, length * near, yield_strength, ends)
        assert force == pytest.approx(half, rel=tolerance)
    step = 1e-5  # no kink either: both rules fall equally fast
    before = buckling_force(second_moment, area, length * (1 - step), yield_strength, ends)
    after = buckling_force(second_moment, area, length * (1 + step), yield_strength, ends)
    assert (before - half) / (half - after) == pytest.approx(1.0, abs=1e-3)


def test_transition_is_exact_where_the_numbers_are():
    """Euler's stress is made exactly 512 MPa, so a yield strength of 1024 MPa is on the boundary."""
    modulus = 512.0
    force = buckling_force(4.0 / math.pi**2, 4.0, 1.0, 1024.0, "pinned", modulus)
    assert force == pytest.approx(2048.0, rel=1e-15)
    assert buckling_force(4.0 / math.pi**2, 4.0, 1.0, 1000.0, "pinned", modulus) == pytest.approx(
        4 * 1000 * (1 - 1000 / 2048)
    )
    assert buckling_force(4.0 / math.pi**2, 4.0, 1.0, 1100.0, "pinned", modulus) == pytest.approx(2048.0)


@given(sizes, st.floats(1, 2000), strengths, st.sampled_from(ENDS))
def test_no_punch_bears_more_than_euler_or_its_yield_strength(diameter, length, yield_strength, ends):
    second_moment, area = round_second_moment(diameter), math.pi * diameter**2 / 4
    force = buckling_force(second_moment, area, length, yield_strength, ends)
    euler = math.pi**2 * STEEL * second_moment / (EFFECTIVE_LENGTH[ends] * length) ** 2
    assert 0 < force <= min(euler, area * yield_strength) * (1 + 1e-12)
    assert buckling_force(second_moment, area, length * 1.5, yield_strength, ends) < force
    assert buckling_force(second_moment, area, length, yield_strength * 1.5, ends) >= force


def test_better_held_ends_bear_more():
    forces = [buckling_force(52.08, 25, 60, 2400, ends) for ends in ("free", "pinned", "guided", "fixed")]
    assert forces == sorted(forces)
    assert buckling_force(52.08, 25, 60, 2400) == forces[0]


@given(st.floats(0.01, 0.999), sizes, strengths, st.sampled_from(ENDS))
@example(part=0.5, diameter=10.0, yield_strength=2000.0, ends="free")
def test_longest_free_length_just_bears_the_force(part, diameter, yield_strength, ends):
    second_moment, area = round_second_moment(diameter), math.pi * diameter**2 / 4
    force = part * area * yield_strength
    length = longest_free_length(force, second_moment, area, yield_strength, ends)
    assert buckling_force(second_moment, area, length, yield_strength, ends) == pytest.approx(force, rel=1e-6)


def test_force_at_the_yield_strength_has_no_free_length():
    with pytest.raises(Impossible, match=r"force 40000 N brings 1000 MPa, not below the yield strength 1000 MPa"):
        longest_free_length(40000, 100, 40, 1000)


def test_shaped_helpers_are_the_general_function():
    assert round_punch_buckling_force(3, 40, 2000, "guided") == buckling_force(
        math.pi * 81 / 64, math.pi * 9 / 4, 40, 2000, "guided"
    )
    assert rectangular_punch_buckling_force(2, 20, 50, 2000) == rectangular_punch_buckling_force(20, 2, 50, 2000)
    assert rectangular_punch_buckling_force(20, 2, 50, 2000) == buckling_force(20 * 8 / 12, 40, 50, 2000)


def test_stiffer_punch_of_carbide_bears_more_while_it_is_slender():
    steel = round_punch_buckling_force(2, 80, 3000)
    assert round_punch_buckling_force(2, 80, 3000, "free", 600000) == pytest.approx(steel * 600 / 210)


def test_unknown_hold_of_the_ends_is_refused():
    with pytest.raises(WrongChoice, match="choose from free, pinned, guided, fixed"):
        buckling_force(52, 25, 60, 2400, "loose")
    with pytest.raises(WrongChoice, match="choose from free, pinned, guided, fixed"):
        longest_free_length(1000, 52, 25, 2400, "loose")


def test_most_cautious_hold_of_the_ends_is_the_default():
    assert longest_free_length(1000, 52, 25, 2400) == longest_free_length(1000, 52, 25, 2400, "free")
    assert round_punch_buckling_force(3, 40, 2000) == round_punch_buckling_force(3, 40, 2000, "free")
    assert rectangular_punch_buckling_force(3, 4, 40, 2000) == rectangular_punch_buckling_force(
        3, 4, 40, 2000, "free"
    )


@pytest.mark.parametrize("place", range(4))
def test_sizes_and_strengths_must_be_more_than_nothing(place):
    arguments = [52.0, 25.0, 60.0, 2400.0]
    arguments[place] = 0.0
    with pytest.raises(OutOfRange):
        buckling_force(*arguments)
    with pytest.raises(OutOfRange):
        buckling_force(52.0, 25.0, 60.0, 2400.0, "free", 0.0)


def test_second_moments_are_those_of_thin_slices():
    middle = (np.arange(200_000) + 0.5) / 200_000 - 0.5
    slices = 2 * np.sqrt(0.25 - middle**2)
    assert round_second_moment(1) == pytest.approx(float((slices * middle**2).mean()), rel=1e-6)
    assert rectangle_second_moment(20, 3) == rectangle_second_moment(3, 20) == 20 * 27 / 12


def test_punch_of_the_smallest_hole_is_stressed_as_allowed():
    diameter = smallest_hole(10, 350, 800)
    assert diameter == pytest.approx(17.5)
    force = math.pi * diameter * 10 * 350
    assert punch_stress(force, math.pi * diameter**2 / 4) == pytest.approx(800)


# Plates


def test_die_plate_is_the_cube_root_of_the_tons_in_centimetres():
    for tons, centimetres in ((1, 1), (8, 2), (27, 3), (64, 4)):
        assert die_plate_thickness(tons * 9806.65, 0) == pytest.approx(10 * centimetres, rel=1e-12)
    assert die_plate_thickness(27 * 9806.65, 5) == pytest.approx(35)
    with pytest.raises(OutOfRange):
        die_plate_thickness(0, 0)


def numeric_sag(load: str) -> float:
    """Return the sag in the middle of a beam of length 1 and stiffness 1 under a force of 1."""
    parts = 40
    bend, _ = beam_matrices(parts)
    forces = np.zeros(2 * parts + 2)
    if load == "centre":
        forces[parts] = 1.0
    else:
        forces[0:-1:2] = 1.0 / parts
    moving = [i for i in range(2 * parts + 2) if i not in (0, 2 * parts)]
    sag = np.zeros(2 * parts + 2)
    sag[moving] = np.linalg.solve(bend[np.ix_(moving, moving)], forces[moving])
    return float(sag[parts])


@pytest.mark.parametrize(("load", "tolerance"), [("centre", 1e-6), ("spread", 1e-3)])
def test_shoe_sags_like_its_beam(load, tolerance):
    """Bending alone for a span of 1000 times the thickness, where shear adds nothing that counts."""
    expected = numeric_sag(load) * 500 * 60000**3 / (STEEL * 400 * 60**3 / 12)
    assert shoe_deflection(500, 60000, 400, 60, STEEL, load) == pytest.approx(expected, rel=tolerance + 4e-6)


def shear_sag(load: str, span: float, thickness: float) -> float:
    """Sag by shear of a beam 1 wide under a force of 1: the work of its shear stresses, a parabola in height."""
    modulus = STEEL / (2 * (1 + 0.3))

    def work(y: float, x: float) -> float:
        profile = 1.5 / thickness * (1 - (2 * y / thickness) ** 2)
        force = 0.5 if load == "centre" else 0.5 - x / span
        return profile * force * profile * 0.5 / modulus

    return 2 * float(dblquad(work, 0, span / 2, -thickness / 2, thickness / 2)[0])


@pytest.mark.parametrize("load", ["centre", "spread"])
@pytest.mark.parametrize("span", [120.0, 300.0, 600.0])
def test_shear_adds_the_work_of_its_stresses(load, span):
    bending = {"centre": 1 / 48, "spread": 5 / 384}[load] * span**3 / (STEEL * 60**3 / 12)
    found = shoe_deflection(500000, span, 400, 60, STEEL, load) / (500000 / 400)
    assert found == pytest.approx(bending + shear_sag(load, span, 60), rel=1e-9)


@pytest.mark.parametrize(("ratio", "more"), [(5, 0.125), (2, 0.78)])
def test_shear_counts_in_a_short_thick_shoe(ratio, more):
    bending = 500000 * (60 * ratio) ** 3 / (48 * STEEL * 400 * 60**3 / 12)
    assert shoe_deflection(500000, 60 * ratio, 400, 60, STEEL) / bending == pytest.approx(1 + more, abs=5e-3)


@given(st.floats(2, 50))
def test_sag_is_hardly_more_and_never_less_than_the_theory_of_elasticity_gives(ratio):
    """Evenly loaded beam of Timoshenko and Goodier, Theory of Elasticity, art. 22 (recalled)."""
    span = 60 * ratio
    bending = 5 / 384 * 1e5 * span**3 / (STEEL * 400 * 60**3 / 12)
    exact = bending * (1 + 12 / 5 * (0.8 + 0.3 / 2) / ratio**2)
    assert exact <= shoe_deflection(1e5, span, 400, 60, STEEL, "spread") <= exact * 1.04


@given(st.floats(1e3, 1e7), sizes, sizes, sizes)
def test_spread_load_stresses_half_and_sags_half_to_five_eighths(force, span, width, thickness):
    centre = shoe_stress(force, span, width, thickness)
    assert shoe_stress(force, span, width, thickness, "spread") == pytest.approx(centre / 2)
    sag = shoe_deflection(force, span, width, thickness, STEEL)
    assert shoe_deflection(force, span, width, thickness, STEEL, "centre") == sag
    spread = shoe_deflection(force, span, width, thickness, STEEL, "spread")
    assert sag / 2 * (1 - 1e-12) <= spread <= sag * 5 / 8 * (1 + 1e-12)
    assert shoe_deflection(force, span, width, thickness, STEEL / 2) == pytest.approx(2 * sag)


def test_shoe_stress_is_moment_over_section_modulus():
    assert shoe_stress(500000, 300, 400, 60) == pytest.approx((500000 / 2) * (300 / 2) / (400 * 60**2 / 6))


@pytest.mark.parametrize(("call", "material"), [(shoe_stress, ()), (shoe_deflection, (STEEL,))])
def test_unknown_load_on_a_shoe_is_refused(call, material):
    with pytest.raises(WrongChoice, match="choose from centre, spread"):
        call(500000, 300, 400, 60, *material, "edge")
