"""Laws, boundaries and refusals of the strip chapter: layout and masses."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pressfuncs import (
    blank_mass,
    bridge_width,
    feed_pitch,
    gross_mass,
    mass_to_order,
    outline_area,
    outline_length,
    parts_per_strip,
    round_blank_area,
    staggered_strip_width,
    strip_utilisation,
    strip_width,
    strips_across,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice

STEEL = 7.85e-9

sizes = st.floats(0.1, 2000)
bridges = st.floats(0, 50)
thicknesses = st.floats(0.05, 20)
shares = st.floats(0.05, 1)


# Layout


@pytest.mark.parametrize(
    ("thickness", "rule", "width"),
    [
        (2.0, "proportional", 2.4),
        (0.8 / 1.2, "proportional", 0.8),
        (0.3, "proportional", 0.8),
        (10.0, "proportional", 12.0),
        (2.0, "stepped", 2.0),
        (0.8, "stepped", 0.8),
        (0.5, "stepped", 0.8),
        (3.2, "stepped", 3.2),
        (6.0, "stepped", 3.2),
    ],
)
def test_bridge_by_either_rule_and_on_its_steps(thickness, rule, width):
    assert bridge_width(thickness, rule) == pytest.approx(width, rel=1e-12)


@given(thicknesses, st.floats(0, 5), st.sampled_from(["proportional", "stepped"]))
def test_bridge_is_never_narrower_than_the_least(thickness, least, rule):
    assert bridge_width(thickness, rule, least) >= least


@given(thicknesses, st.floats(1, 3))
def test_thicker_sheet_never_takes_a_narrower_bridge(thickness, more):
    for rule in ("proportional", "stepped"):
        assert bridge_width(thickness * more, rule) >= bridge_width(thickness, rule)


def test_bridge_by_an_unknown_rule_is_refused():
    with pytest.raises(WrongChoice, match="choose from proportional, stepped"):
        bridge_width(1.0, "handbook")


def test_pitch_is_part_and_bridge_and_may_share_a_cut():
    assert feed_pitch(50, 1.5) == 51.5
    assert feed_pitch(50, 0) == 50
    with pytest.raises(OutOfRange, match="bridge must not be less than 0 mm"):
        feed_pitch(50, -0.1)


@given(sizes, bridges, st.integers(1, 6), st.floats(0.1, 50), st.floats(0, 20))
def test_every_further_row_adds_one_part_and_one_bridge(part, edge, rows, bridge, side_cut):
    width = strip_width(part, edge, rows, bridge, side_cut)
    assert strip_width(part, edge, rows + 1, bridge, side_cut) - width == pytest.approx(part + bridge)
    assert width - strip_width(part, edge, rows, bridge, 0) == pytest.approx(side_cut, rel=1e-9, abs=1e-7)
    assert strip_width(part, edge, 1, 0, 0) == part + 2 * edge


def test_rows_without_a_bridge_are_refused():
    with pytest.raises(Impossible, match="2 rows with a row bridge of 0 mm: give the bridge between two rows"):
        strip_width(50, 1.5, rows=2, row_bridge=0, side_cut=0)
    assert strip_width(50, 1.5, rows=1, row_bridge=0, side_cut=0) == 53


def test_only_the_rows_without_a_bridge_are_marked_in_a_column():
    with pytest.raises(Impossible) as refusal:
        strip_width(np.array([50.0, 50.0, 50.0]), 1.5, np.array([1.0, 2.0, 3.0]), np.array([0.0, 0.0, 1.5]), 0)
    assert refusal.value.bad.tolist() == [False, True, False]


@given(sizes, bridges, bridges, st.integers(2, 8))
def test_staggered_rows_are_narrower_than_straight_ones(diameter, edge, bridge, rows):
    staggered = staggered_strip_width(diameter, edge, bridge, rows, 0)
    assert staggered < rows * diameter + (rows - 1) * bridge + 2 * edge


@given(sizes, bridges, bridges)
def test_staggered_discs_keep_the_bridge_to_the_next_row(diameter, edge, bridge):
    """The centres of two neighbours in different rows are half a pitch and one row apart."""
    row = staggered_strip_width(diameter, edge, bridge, 2, 0) - staggered_strip_width(diameter, edge, bridge, 1, 0)
    half_pitch = feed_pitch(diameter, bridge) / 2
    assert math.hypot(row, half_pitch) == pytest.approx(diameter + bridge, rel=1e-9)


def test_side_cut_comes_on_top_of_staggered_rows():
    assert staggered_strip_width(50, 1.5, 1.5, 2, 4) == pytest.approx(
        staggered_strip_width(50, 1.5, 1.5, 2, 0) + 4
    )


def test_many_staggered_rows_come_near_the_densest_packing():
    rows = 10_000
    width = staggered_strip_width(50, 0, 0, rows, 0)
    share = strip_utilisation(round_blank_area(50), feed_pitch(50, 0), width, rows)
    assert share == pytest.approx(math.pi / (2 * math.sqrt(3)), rel=1e-4)
    assert share < math.pi / (2 * math.sqrt(3))


def test_strip_that_is_all_part_is_used_whole_and_no_more():
    assert strip_utilisation(1000, 40, 25) == 1.0
    assert strip_utilisation(0.1 * 3 * 10, 0.3, 10) == pytest.approx(1.0)
    with pytest.raises(Impossible, match="1 parts of 1001 mm2 are more than a pitch of 40 mm on 25 mm holds"):
        strip_utilisation(1001, 40, 25)
    with pytest.raises(Impossible):
        strip_utilisation(1000.0001, 40, 25)


@given(st.integers(1, 200), st.integers(1, 4000), st.integers(0, 100))
@example(strips=12, tenths=976, trim=0)
@example(strips=1, tenths=1, trim=0)
def test_sheet_of_exactly_so_many_strips_yields_them_all(strips, tenths, trim):
    width = tenths / 10
    assert strips_across(strips * width + 2 * trim / 10, width, trim / 10) == strips
    assert strips_across((strips + 0.999) * width + 2 * trim / 10, width, trim / 10) == strips


@pytest.mark.parametrize(("sheet", "width", "trim"), [(0.7, 0.1, 0.3), (4.3, 0.1, 2.1)])
def test_one_strip_that_fits_exactly_is_not_lost_to_noise(sheet, width, trim):
    assert sheet - 2 * trim < width
    assert strips_across(sheet, width, trim) == 1
    assert parts_per_strip(sheet, width, width, trim) == 1


def test_sheet_too_narrow_for_a_strip_is_refused():
    assert strips_across(107.6, 97.6, 5) == 1
    with pytest.raises(Impossible, match=r"too narrow for one strip of 97.6 mm"):
        strips_across(107.5, 97.6, 5)


@given(st.integers(1, 500), st.integers(1, 3000), st.integers(0, 100), st.integers(0, 50), st.integers(1, 6))
@example(parts=3, part_tenths=1, bridge_tenths=1, end_tenths=1, per_pitch=1)
def test_strip_of_exactly_so_many_parts_yields_them_all(parts, part_tenths, bridge_tenths, end_tenths, per_pitch):
    part, bridge, end = part_tenths / 10, bridge_tenths / 10, end_tenths / 10
    pitch = feed_pitch(part, bridge)
    length = parts * part + (parts - 1) * bridge + 2 * end
    assert parts_per_strip(length, pitch, part, end, per_pitch) == parts * per_pitch
    assert parts_per_strip(length + 0.99 * pitch, pitch, part, end) == parts
    if parts > 1:
        assert parts_per_strip(length - 0.01 * pitch, pitch, part, end) == parts - 1


def test_strip_too_short_for_a_part_is_refused():
    assert parts_per_strip(53, 51.5, 50, 1.5) == 1
    assert parts_per_strip(50, 51.5, 50, 0) == 1
    with pytest.raises(Impossible, match=r"strip of 52.9 mm is too short for one part of 50 mm"):
        parts_per_strip(52.9, 51.5, 50, 1.5)


# Areas and masses


def test_holes_are_taken_off_a_disc():
    assert round_blank_area(50) == pytest.approx(math.pi * 625)
    assert round_blank_area(50, 24) == pytest.approx(math.pi * (625 - 144))
    assert round_blank_area(50, 10, 4) == pytest.approx(math.pi * (625 - 100))
    assert round_blank_area(50, 10, 0) == round_blank_area(50)
    with pytest.raises(Impossible, match="4 holes of 25 mm leave nothing of a disc of 50 mm"):
        round_blank_area(50, 25, 4)


coordinates = st.floats(-1000, 1000)


@given(st.integers(3, 400), st.floats(1, 500), coordinates, coordinates, st.floats(0, 6.28))
def test_regular_polygon_has_its_known_area_and_length(corners, radius, right, up, turn):
    angles = [turn + 2 * math.pi * i / corners for i in range(corners)]
    across = [right + radius * math.cos(angle) for angle in angles]
    along = [up + radius * math.sin(angle) for angle in angles]
    area = corners / 2 * radius**2 * math.sin(2 * math.pi / corners)
    assert outline_area(across, along) == pytest.approx(area, rel=1e-6)
    assert outline_length(across, along) == pytest.approx(
        2 * corners * radius * math.sin(math.pi / corners), rel=1e-6
    )


def test_outline_is_the_same_either_way_round_and_from_any_corner():
    across, along = [0.0, 60, 60, 20, 20, 0], [0.0, 0, 10, 10, 50, 50]
    for corners in (list(zip(across, along, strict=True)), list(zip(across, along, strict=True))[::-1]):
        for turn in range(6):
            turned = corners[turn:] + corners[:turn]
            assert outline_area(*zip(*turned, strict=True)) == pytest.approx(1400)
            assert outline_length(*zip(*turned, strict=True)) == pytest.approx(220)


def test_outline_that_encloses_nothing_is_refused():
    with pytest.raises(Impossible, match="the corners of the outline lie on one line"):
        outline_area([0, 10, 20], [0, 10, 20])
    with pytest.raises(Impossible, match="2 horizontal and 2 vertical places are given"):
        outline_area([0, 10], [0, 10])
    with pytest.raises(Impossible, match="3 horizontal and 4 vertical places are given"):
        outline_length([0, 10, 20], [0, 10, 20, 30])
    with pytest.raises(OutOfRange, match="vertical number 2 is not a finite number"):
        outline_length([0, 10, 20], [0, math.nan, 20])


@given(sizes, sizes, thicknesses, shares)
def test_gross_mass_is_net_mass_over_utilisation(pitch, width, thickness, share):
    area = share * pitch * width
    net = blank_mass(area, thickness, STEEL)
    gross = gross_mass(pitch, width, thickness, STEEL)
    assert gross >= net * (1 - 1e-12)
    assert net / gross == pytest.approx(strip_utilisation(area, pitch, width))


def test_parts_of_a_pitch_share_its_mass():
    assert gross_mass(51.5, 97.6, 2, STEEL, 2) == pytest.approx(gross_mass(51.5, 97.6, 2, STEEL) / 2)


def test_mass_to_order_bears_scrap_and_ends():
    assert mass_to_order(10000, 4e-5, 0, 0) == pytest.approx(0.4)
    assert mass_to_order(10000, 4e-5, 0.2, 0) == pytest.approx(0.5)
    assert mass_to_order(10000, 4e-5, 0.2, 0.5) == pytest.approx(1.0)
    assert mass_to_order(0, 4e-5, 0, 0) == 0.0
    for losses in ((1.0, 0.0), (0.0, 1.0), (-0.1, 0.0)):
        with pytest.raises(OutOfRange, match=r"10 % is 0.1"):
            mass_to_order(10000, 4e-5, *losses)
