"""Shear on an edge: every contour against the length of it that is in the sheet, summed piece by piece."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import (
    engaged_share,
    relief_angle,
    relief_for_force,
    relief_from_angle,
    relief_over_cut,
    relieved_shearing_force,
)
from pressfuncs.errors import Impossible, OutOfRange, WrongChoice
from pressfuncs.functions.cutting_shear import CONTOURS

sizes = st.floats(0.05, 5000)
forces = st.floats(1, 1e8)
shares = st.floats(0.01, 1)
CLOSED = ("round one way", "round roof", "rectangle one way", "rectangle roof")
LENGTH, WIDTH = 100.0, 40.0
PIECES = 40_000


def cornered(length: float, width: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return middles and lengths of small pieces of a rectangle around the origin."""
    along = (np.arange(PIECES) + 0.5) / PIECES
    u, v = (along - 0.5) * length, (along - 0.5) * width
    full = np.full(PIECES, length / 2), np.full(PIECES, width / 2)
    xs = np.concatenate([u, u, full[0], -full[0]])
    ys = np.concatenate([full[1], -full[1], v, v])
    return xs, ys, np.repeat([length, length, width, width], PIECES) / PIECES


def round_one() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    angle = (np.arange(4 * PIECES) + 0.5) / (4 * PIECES) * 2 * math.pi
    return 50 * np.cos(angle), 50 * np.sin(angle), np.full(4 * PIECES, 1.0)


def by_pieces(contour: str, band: float) -> float:
    """Return the largest share of a contour in a band of this height, the shear being 1 high."""
    if contour == "straight":
        return band
    xs, _, sizes = round_one() if contour.startswith("round") else cornered(LENGTH, WIDTH)
    reach = xs.max()
    height = np.abs(xs) / reach if contour.endswith("roof") else (xs + reach) / (2 * reach)
    order = np.argsort(height)
    height, summed = height[order], np.concatenate([[0.0], np.cumsum(sizes[order])])
    upper = np.searchsorted(height, height + band * (1 + 1e-9), side="right")
    return float((summed[upper] - summed[:-1]).max() / summed[-1])


def lowered(contour: str, band: float, force: float = 1.0) -> float:
    sides = (LENGTH, WIDTH) if contour.startswith("rectangle") else ()
    return relieved_shearing_force(force, 2.0, 0.5, 1.0 / band, contour, *sides)


@pytest.mark.parametrize("contour", ["straight", *CLOSED])
@pytest.mark.parametrize("band", [0.05, 0.15, 1 / 6, 0.4, 0.5, 0.75, 0.99])
def test_every_contour_is_what_its_pieces_in_the_sheet_come_to(contour, band):
    assert lowered(contour, band) == pytest.approx(by_pieces(contour, band), rel=2e-3, abs=5e-4)


def test_the_figures_of_common_contours():
    """A straight edge has 0.4, 0.167, 0.4 and 0.15."""
    found = [lowered("round one way", 0.4), lowered("round one way", 1 / 6), lowered("round roof", 0.4)]
    assert found == pytest.approx([0.436, 0.268, 0.590], abs=5e-4)
    assert lowered("rectangle one way", 0.15) == pytest.approx(0.25)
    assert lowered("any", 0.15) == 1.0


@given(st.sampled_from(CONTOURS), forces, st.floats(1e-3, 3.0), st.floats(1.0, 3.0))
def test_more_shear_never_needs_more_force(contour, force, band, more):
    one, higher = lowered(contour, band, force), lowered(contour, band / more, force)
    assert 0 < higher <= one * (1 + 1e-12)
    assert one <= force * (1 + 1e-12)
    if band <= 0.5:  # the ends of a round edge are long: below half of it, no contour has less in the sheet
        assert one >= lowered("straight", band, force) * (1 - 1e-12)


@given(st.sampled_from(CONTOURS), forces, sizes, shares)
def test_shear_equal_to_the_penetration_brings_exactly_nothing(contour, force, thickness, penetration):
    sides = LENGTH, WIDTH
    for relief in (0.0, penetration * thickness):
        assert relieved_shearing_force(force, thickness, penetration, relief, contour, *sides) == force


@given(st.sampled_from(["straight", *CLOSED]), forces, sizes, shares, st.floats(0.3, 0.99))
def test_shear_for_a_force_brings_that_force(contour, force, thickness, penetration, part):
    sides = LENGTH, WIDTH
    relief = relief_for_force(force, thickness, penetration, part * force, contour, *sides)
    found = relieved_shearing_force(force, thickness, penetration, relief, contour, *sides)
    assert found <= part * force * (1 + 1e-9)
    if contour != "rectangle one way" or part < 0.85:  # beyond, both ends cut together or one alone
        assert found == pytest.approx(part * force)


@given(forces, sizes, shares, st.floats(0, 5000), st.floats(0.05, 0.99))
def test_the_smooth_convention_never_gives_more_than_the_ratio_and_has_its_own_inverse(
    force, thickness, penetration, relief, part
):
    figures = force, thickness, penetration
    straight = relieved_shearing_force(*figures, relief, "straight")
    assert straight >= relieved_shearing_force(*figures, relief, "straight", model="smooth")
    relief = relief_for_force(*figures, part * force, "straight", model="smooth")
    smooth = relieved_shearing_force(*figures, relief, "straight", model="smooth")
    assert smooth == pytest.approx(part * force)


@pytest.mark.parametrize("contour", CONTOURS)
def test_no_shear_is_wanted_where_the_force_is_there_already(contour):
    assert relief_for_force(1000, 4, 0.5, 1000, contour, LENGTH, WIDTH) == 0
    assert relief_for_force(1000, 4, 0.5, 2000, contour, LENGTH, WIDTH) == 0


@pytest.mark.parametrize(("contour", "share"), [("rectangle one way", 40 / 280), ("rectangle roof", 40 / 140)])
def test_no_shear_brings_a_rectangle_below_its_sides_across(contour, share):
    with pytest.raises(Impossible, match="no shear brings this contour to"):
        relief_for_force(1000, 4, 0.5, 1000 * share, contour, LENGTH, WIDTH)
    assert relief_for_force(1000, 4, 0.5, 1000 * share + 1, contour, LENGTH, WIDTH) > 100


@given(st.sampled_from(CONTOURS), st.lists(st.tuples(forces, shares, st.floats(0, 50)), min_size=1, max_size=5))
def test_a_column_gives_what_its_cells_give(contour, rows):
    force, penetration, relief = (np.array(column) for column in zip(*rows))
    whole = relieved_shearing_force(force, 3.0, penetration, relief, contour, LENGTH, WIDTH)
    each = [relieved_shearing_force(f, 3.0, p, s, contour, LENGTH, WIDTH) for f, p, s in rows]
    assert whole == pytest.approx(each, rel=1e-12)
    targets = force * 0.5
    whole = relief_for_force(force, 3.0, penetration, targets, "round roof")
    each = [relief_for_force(f, 3.0, p, f * 0.5, "round roof") for f, p, _ in rows]
    assert whole == pytest.approx(each, rel=1e-12)


# Any outline


def regular(corners: int) -> tuple[list[float], list[float]]:
    angles = [2 * math.pi * i / corners for i in range(corners)]
    return [50 * math.cos(angle) for angle in angles], [50 * math.sin(angle) for angle in angles]


@given(st.floats(0.01, 0.99), st.floats(-7, 7))
def test_an_outline_of_many_corners_is_a_round_one(band, direction):
    share = engaged_share(*regular(720), 1.0, band, direction)
    assert share == pytest.approx(lowered("round one way", band), abs=2e-3)


@given(st.floats(0.01, 0.99))
def test_an_outline_of_four_corners_is_a_rectangle(band):
    xs, ys = [0, 0, LENGTH, LENGTH], [0, WIDTH, WIDTH, 0]
    assert engaged_share(xs, ys, 7.0, 7.0 * band) == pytest.approx(lowered("rectangle one way", band))
    turned = engaged_share(xs, ys, 7.0, 7.0 * band, math.pi / 2)
    assert turned == pytest.approx((LENGTH + 2 * WIDTH * band) / (2 * (LENGTH + WIDTH)), rel=1e-6)


corners = st.lists(st.tuples(st.floats(-100, 100), st.floats(-100, 100)), min_size=3, max_size=9)


@given(corners, st.floats(0.05, 1.5), st.floats(0, 6.3), st.integers(0, 8))
def test_an_outline_is_what_its_pieces_in_the_sheet_come_to(places, band, direction, first):
    xs, ys = zip(*places)
    if math.dist(*zip(*((min(v), max(v)) for v in (xs, ys)))) < 1:
        return
    share = engaged_share(xs, ys, 1.0, band, direction)
    steps = (np.arange(2000) + 0.5) / 2000
    heights, sizes = [], []
    for i, (x, y) in enumerate(places):
        x0, y0 = places[i - 1]
        along = (x0 + (x - x0) * steps) * math.cos(direction) + (y0 + (y - y0) * steps) * math.sin(direction)
        heights.append(along)
        sizes.append(np.full(2000, math.hypot(x - x0, y - y0) / 2000))
    height, size = np.concatenate(heights), np.concatenate(sizes)
    ends = [x * math.cos(direction) + y * math.sin(direction) for x, y in places]
    reach = max(ends) - min(ends)
    starts = np.linspace(min(ends) - reach * band, max(ends), 60)
    seen = [size[(height >= start) & (height <= start + reach * band)].sum() for start in starts]
    assert max(seen) / size.sum() <= share + 2e-3
    turned = first % len(places)
    xs_turned, ys_turned = xs[turned:] + xs[:turned], ys[turned:] + ys[:turned]
    assert engaged_share(xs_turned, ys_turned, 1.0, band, direction) == pytest.approx(share)
    assert share <= engaged_share(xs, ys, 1.0, band * 1.1, direction) + 1e-12


def test_an_outline_all_in_one_plane_across_the_shear_cuts_at_once():
    assert engaged_share([0, 0, 0], [0, 50, 20], 5.0, 1.0) == 1.0
    assert engaged_share([0, 10, 0], [0, 50, 20], 1.0, 1.0) == 1.0


@given(sizes, sizes)
def test_relief_angle_and_height_are_inverse(relief, length):
    assert relief_from_angle(relief_angle(relief, length), length) == pytest.approx(relief)


def test_relief_over_a_cut_as_long_as_the_blade_is_all_of_it():
    assert relief_over_cut(20, 400, 400) == 20
    assert relief_over_cut(20, 400, 500) == 20
    assert relief_over_cut(20, 400, 100) == 5


REFUSED = [
    (lambda: relieved_shearing_force(1, 1, 0, 1), OutOfRange),
    (lambda: relieved_shearing_force(1, 1, 40, 1), OutOfRange),
    (lambda: relieved_shearing_force(1, 1, 0.4, -1), OutOfRange),
    (lambda: relieved_shearing_force(0, 1, 0.4, 1), OutOfRange),
    (lambda: relieved_shearing_force(1, 0, 0.4, 1), OutOfRange),
    (lambda: relieved_shearing_force(1, 1, 0.4, 1, "linear"), WrongChoice),
    (lambda: relief_for_force(1, 1, 0.4, 0), OutOfRange),
    (lambda: relief_for_force(0, 1, 0.4, 1), OutOfRange),
    (lambda: relief_for_force(1, 1, 1.4, 1), OutOfRange),
    (lambda: relief_for_force(1, 1, 0.4, 1, "linear"), WrongChoice),
    (lambda: relief_over_cut(-1, 1, 1), OutOfRange),
    (lambda: relief_over_cut(1, 0, 1), OutOfRange),
    (lambda: relief_angle(-1, 1), OutOfRange),
    (lambda: relief_angle(1, 0), OutOfRange),
    (lambda: relief_from_angle(-0.1, 1), OutOfRange),
    (lambda: relief_from_angle(0.1, 0), OutOfRange),
    (lambda: relief_from_angle(math.pi / 2, 1), Impossible),
    (lambda: relieved_shearing_force(1, 1, 0.4, 1, "straight", model="linear"), WrongChoice),
    (lambda: relieved_shearing_force(1, 1, 0.4, 1, "rectangle roof", 5), Impossible),
    (lambda: relieved_shearing_force(1, 1, 0.4, 1, "rectangle one way", 0, 5), Impossible),
    (lambda: relieved_shearing_force(1, 1, 0.4, 1, "straight", -1), OutOfRange),
    (lambda: relieved_shearing_force(1, 1, 0.4, 1, "rectangle one way", 5, 0), Impossible),
    (lambda: relieved_shearing_force(1, 1, 0.4, 1, "any", model="smooth"), Impossible),
    (lambda: relief_for_force(1, 1, 0.4, 0.5, "round roof", model="smooth"), Impossible),
    (lambda: relief_for_force(1, 1, 0.4, 0.5), Impossible),
    (lambda: relief_for_force(1, 1, 0.4, 0.5, "straight", model="linear"), WrongChoice),
    (lambda: relief_for_force(1, 1, 0.4, 0.5, "rectangle roof"), Impossible),
    (lambda: engaged_share([0, 1], [0, 1], 1, 1), Impossible),
    (lambda: engaged_share([0, 1, 1], [0, 1], 1, 1), Impossible),
    (lambda: engaged_share([2, 2, 2], [3, 3, 3], 2, 1), Impossible),
    (lambda: engaged_share([0, 1, math.inf], [0, 1, 0], 2, 1), OutOfRange),
    (lambda: engaged_share([0, 1, 1], [0, 1, math.nan], 2, 1), OutOfRange),
    (lambda: engaged_share([0, 1, 1], [0, 1, 0], -1, 1), OutOfRange),
    (lambda: engaged_share([0, 1, 1], [0, 1, 0], 1, 0), OutOfRange),
    (lambda: engaged_share([0, 1, 1], [0, 1, 0], 2, 1, math.nan), OutOfRange),
]


@pytest.mark.parametrize(("call", "error"), REFUSED)
def test_what_cannot_be_is_refused_with_a_sentence(call, error):
    with pytest.raises(error) as caught:
        call()
    assert "{" not in str(caught.value)
