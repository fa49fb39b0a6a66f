"""Laws, boundaries and refusals of the cutting chapter."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import (
    clearance_per_side,
    cutting_energy,
    die_opening,
    dull_edge_force,
    ejection_force,
    punch_size,
    rectangle_cut_length,
    round_cut_length,
    shear_strength_from_tensile,
    shearing_force,
    slugs_in_die,
    smallest_hole,
    snap_through_force,
    snap_through_limit,
    staggered_peak_force,
    stripping_force,
    stripping_force_by_edge,
    stroke_force,
)
from pressfuncs.errors import Impossible, OutOfRange, PressError, WrongChoice, WrongType
from pressfuncs.functions._rounding import settle

sizes = st.floats(0.05, 5000)
forces = st.floats(1, 1e8)
shares = st.floats(0.01, 1)
punches = st.lists(st.tuples(st.floats(0, 1e6), st.floats(-100, 100)), min_size=1, max_size=12)


@given(sizes, sizes, sizes, st.floats(1, 10))
def test_thicker_longer_or_stronger_sheet_never_needs_less_force(cut_length, thickness, strength, more):
    force = shearing_force(cut_length, thickness, strength)
    assert shearing_force(cut_length * more, thickness, strength) >= force
    assert shearing_force(cut_length, thickness * more, strength) >= force
    assert shearing_force(cut_length, thickness, strength * more) >= force


def test_load_scales_with_diameter_and_thickness():
    """A known problem: diameter 1.5 times and thickness 0.4 times turn 5 kN into 3 kN."""
    before = shearing_force(round_cut_length(20), 5, 300)
    assert shearing_force(round_cut_length(30), 2, 300) / before == pytest.approx(3 / 5)


@given(forces, st.floats(0, 1))
def test_worn_edges_add_their_share_and_nearly_a_third_where_it_is_not_said(force, allowance):
    assert dull_edge_force(force, allowance) == pytest.approx(force + allowance * force)
    assert dull_edge_force(force) == pytest.approx(1.3 * force)
    assert dull_edge_force(force, 0) == force


@given(punches, st.floats(0.01, 50))
def test_stagger_is_never_above_the_sum_nor_below_the_largest_punch(group, engagement):
    each, heights = zip(*group)
    peak = staggered_peak_force(list(each), list(heights), engagement)
    assert peak <= sum(each) * (1 + 1e-12)
    assert peak >= max(each)


@given(punches, st.floats(0.01, 50))
def test_stagger_agrees_with_looking_at_every_height(group, engagement):
    each, heights = zip(*group)
    apart = engagement * (1 - 1e-9)
    sums = [sum(f for f, h in group if 0 <= h - start < apart) for start in heights]
    assert staggered_peak_force(list(each), list(heights), engagement) == pytest.approx(max(sums))


@given(punches, st.floats(0.01, 50), st.floats(1, 5), st.randoms())
def test_stagger_does_not_depend_on_order_and_grows_with_the_engagement(group, engagement, more, random):
    mixed = random.sample(group, len(group))
    peak = staggered_peak_force(*map(list, zip(*group)), engagement)
    assert staggered_peak_force(*map(list, zip(*mixed)), engagement) == pytest.approx(peak)
    assert staggered_peak_force(*map(list, zip(*group)), engagement * more) >= peak * (1 - 1e-12)


def test_punches_at_one_height_all_cut_together():
    assert staggered_peak_force([10, 20, 30], [5, 5, 5], 1) == 60


def test_punches_exactly_one_engagement_apart_do_not_cut_together():
    assert staggered_peak_force([80, 50], [2, 0], 2) == 80
    assert staggered_peak_force([80, 50], [0.1 + 0.2, 0.0], 0.3) == 80
    assert staggered_peak_force([80, 50], [0.3, 0.0], 0.1 + 0.2) == 80
    assert staggered_peak_force([80, 50], [1.99999, 0], 2) == 130


@given(forces, sizes, shares)
def test_energy_is_never_more_than_force_over_the_whole_thickness(force, thickness, part):
    most = cutting_energy(force, thickness)
    assert most == force * thickness
    assert cutting_energy(force, thickness, part) <= most
    assert cutting_energy(force, thickness, part, "factor", part) <= most
    assert cutting_energy(force, thickness, part, "triangle") == pytest.approx(most / 2)


def test_each_energy_model_reads_its_own_share():
    assert cutting_energy(1000, 2, 0.3, "full", 0.9) == pytest.approx(600)
    assert cutting_energy(1000, 2, 0.3, "triangle", 0.9) == pytest.approx(1000)
    assert cutting_energy(1000, 2, 0.3, "factor", 0.9) == pytest.approx(1800)
    assert cutting_energy(1000, 2, model="factor") == pytest.approx(1400)


def test_shares_of_the_force():
    assert shear_strength_from_tensile(500) == pytest.approx(450)
    assert shear_strength_from_tensile(500, 0.8) == pytest.approx(400)
    assert stripping_force(1000) == pytest.approx(200)
    assert snap_through_limit(1000) == pytest.approx(100)
    assert snap_through_force(1000, 0.3) == pytest.approx(300)
    assert ejection_force(1000, 0.05, 1) == pytest.approx(50)
    assert ejection_force(1000, 0.05, 3) == pytest.approx(150)
    assert ejection_force(1000, 0.05, 0) == 0


def test_stroke_force_adds_every_part():
    assert stroke_force(1, 20, 300, 4000, 50000) == 54321
    assert stroke_force(7, 0, 0, 0, 0) == 7


@given(sizes, sizes)
def test_stripping_by_edge_is_a_pressure_on_the_edge(cut_length, thickness):
    assert stripping_force_by_edge(cut_length, thickness, 2) == pytest.approx(2 * cut_length * thickness)


@given(st.floats(1, 1000), st.floats(0, 0.4), st.floats(0, 0.05))
def test_die_is_larger_than_punch_by_two_clearances_when_nothing_is_worn(size, clearance, wear):
    for sized in ("blank", "hole"):
        gap = die_opening(size, clearance, sized, wear) - punch_size(size, clearance, sized, wear)
        assert gap == pytest.approx(2 * clearance, abs=1e-9)
    assert die_opening(size, clearance, "blank") == size
    assert punch_size(size, clearance, "hole") == size
    assert die_opening(size, clearance, "blank", wear) <= size
    assert punch_size(size, clearance, "hole", wear) >= size


def test_total_clearance_is_halved():
    assert clearance_per_side(10, 0.06) == pytest.approx(0.6)
    assert clearance_per_side(10, 0.06, "total") == pytest.approx(0.3)


@given(sizes, sizes)
def test_cut_length_of_a_rectangle_lies_between_those_of_slot_and_sharp_corners(length, width):
    sharp = rectangle_cut_length(length, width)
    radius = min(length, width) / 2
    slot = rectangle_cut_length(length, width, radius)
    assert sharp == pytest.approx(2 * (length + width))
    assert slot == pytest.approx(2 * (max(length, width) - 2 * radius) + 2 * math.pi * radius)
    assert slot < sharp
    assert rectangle_cut_length(length, width, openings=3) == pytest.approx(3 * sharp)


def test_round_openings_are_counted():
    assert round_cut_length(10, 4) == pytest.approx(40 * math.pi)


def test_punch_at_the_smallest_hole_is_stressed_to_its_strength():
    diameter = smallest_hole(3, 400, 1600)
    stress = shearing_force(round_cut_length(diameter), 3, 400) / (math.pi * diameter**2 / 4)
    assert stress == pytest.approx(1600)


@pytest.mark.parametrize(("land", "thickness", "slugs"), [(6, 1.2, 5), (6.01, 1.2, 6), (0.3, 0.1, 3), (0, 1, 0)])
def test_slugs_are_rounded_up_but_not_by_float_noise(land, thickness, slugs):
    assert slugs_in_die(land, thickness) == slugs


REFUSED = [
    (lambda: dull_edge_force(0, 0.3), OutOfRange),
    (lambda: dull_edge_force(1, -0.1), OutOfRange),
    (lambda: dull_edge_force(1, 1.1), OutOfRange),
    (lambda: shearing_force(0, 1, 1), OutOfRange),
    (lambda: shearing_force(1, -1, 1), OutOfRange),
    (lambda: shearing_force(1, 1, math.nan), OutOfRange),
    (lambda: shearing_force("1", 1, 1), WrongType),
    (lambda: shear_strength_from_tensile(400, 1.25), OutOfRange),
    (lambda: shear_strength_from_tensile(400, 80), OutOfRange),
    (lambda: staggered_peak_force([1], [1], 0), OutOfRange),
    (lambda: staggered_peak_force([-1], [1], 1), OutOfRange),
    (lambda: staggered_peak_force([1], [math.nan], 1), OutOfRange),
    (lambda: staggered_peak_force([1, 2], [1], 1), Impossible),
    (lambda: staggered_peak_force([], [], 1), Impossible),
    (lambda: cutting_energy(0, 1), OutOfRange),
    (lambda: cutting_energy(1, 1, 1.2), OutOfRange),
    (lambda: cutting_energy(1, 1, 1, "factor", 0), OutOfRange),
    (lambda: cutting_energy(1, 1, 1, "half"), WrongChoice),
    (lambda: snap_through_force(1, 10), OutOfRange),
    (lambda: snap_through_force(0, 0.1), OutOfRange),
    (lambda: snap_through_limit(0), OutOfRange),
    (lambda: snap_through_limit(1, 2), OutOfRange),
    (lambda: stripping_force(1, 20), OutOfRange),
    (lambda: stripping_force(-1), OutOfRange),
    (lambda: stripping_force_by_edge(1, 0), OutOfRange),
    (lambda: stripping_force_by_edge(1, 1, 0), OutOfRange),
    (lambda: ejection_force(1, 0.1, 1.5), OutOfRange),
    (lambda: ejection_force(1, 5, 1), OutOfRange),
    (lambda: ejection_force(0, 0.1, 1), OutOfRange),
    (lambda: ejection_force(1, 0.1, -1), OutOfRange),
    (lambda: stroke_force(1, -1, 0, 0, 0), OutOfRange),
    (lambda: stroke_force(1, 0, 0, 0, math.inf), OutOfRange),
    (lambda: round_cut_length(0), OutOfRange),
    (lambda: round_cut_length(1, 0.5), OutOfRange),
    (lambda: round_cut_length(1, 0), OutOfRange),
    (lambda: rectangle_cut_length(10, 4, 2.1), Impossible),
    (lambda: rectangle_cut_length(4, 10, 2.1), Impossible),
    (lambda: rectangle_cut_length(10, 4, -1), OutOfRange),
    (lambda: rectangle_cut_length(0, 4), OutOfRange),
    (lambda: rectangle_cut_length(10, 4, 0, 0), OutOfRange),
    (lambda: clearance_per_side(1, 6), OutOfRange),
    (lambda: clearance_per_side(0, 0.06), OutOfRange),
    (lambda: clearance_per_side(1, 0.06, "both"), WrongChoice),
    (lambda: punch_size(1, 0.5, "blank"), Impossible),
    (lambda: punch_size(1, 0.1, "blank", 0.8), Impossible),
    (lambda: punch_size(1, -0.1, "hole"), OutOfRange),
    (lambda: punch_size(0, 0.1, "hole"), OutOfRange),
    (lambda: punch_size(1, 0.1, "hole", -0.1), OutOfRange),
    (lambda: punch_size(1, 0.1, "punch"), WrongChoice),
    (lambda: die_opening(1, 0.1, "blank", 1), Impossible),
    (lambda: die_opening(1, 0.1, "die"), WrongChoice),
    (lambda: smallest_hole(1, 1, 0), OutOfRange),
    (lambda: smallest_hole(0, 1, 1), OutOfRange),
    (lambda: slugs_in_die(1, 0), OutOfRange),
    (lambda: slugs_in_die(-1, 1), OutOfRange),
]


@pytest.mark.parametrize(("call", "error"), REFUSED)
def test_what_cannot_be_is_refused_with_a_sentence(call, error):
    with pytest.raises(error) as caught:
        call()
    assert isinstance(caught.value, PressError)
    assert caught.value.function
    assert "{" not in str(caught.value)


def test_slug_count_zero_and_largest_corner_radius_are_taken():
    assert rectangle_cut_length(10, 4, 2) == pytest.approx(12 + 4 * math.pi)
    assert punch_size(1, 0.49, "blank") == pytest.approx(0.02)


def test_strengths_and_forces_of_nothing_are_refused():
    for call in (shear_strength_from_tensile, stripping_force, snap_through_limit):
        with pytest.raises(OutOfRange, match="must be greater than 0"):
            call(0)


def test_difference_is_noise_only_far_below_what_can_be_measured():
    assert settle(1e-3, 1e6) == 0
    assert settle(2e-3, 1e6) == 2e-3
    assert settle(-1e-12, 1e-2) == 0
    assert settle(-1e-10, 1e-2) == -1e-10
