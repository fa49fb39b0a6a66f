"""Laws, boundaries and refusals of the load-centre chapter."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import (
    die_shift,
    load_centre,
    load_centre_from_moments,
    off_centre_margin,
    off_centre_moment,
)
from pressfuncs.errors import Impossible, OutOfRange

stations = st.lists(st.tuples(st.floats(1, 1e6), st.floats(-2000, 2000)), min_size=1, max_size=20)
places = st.floats(-2000, 2000)


@given(stations)
def test_load_centre_is_the_weighted_mean_and_lies_between_the_stations(group):
    forces, positions = map(list, zip(*group))
    centre = load_centre(forces, positions)
    assert centre == pytest.approx(np.average(positions, weights=forces), abs=1e-6)
    assert min(positions) - 1e-6 <= centre <= max(positions) + 1e-6


@given(stations, places, st.floats(0.1, 10))
def test_load_centre_moves_with_its_line_and_not_with_the_size_of_all_forces(group, shift, factor):
    forces, positions = map(list, zip(*group))
    centre = load_centre(forces, positions)
    assert load_centre(forces, [p + shift for p in positions]) == pytest.approx(centre + shift, abs=1e-6)
    assert load_centre([f * factor for f in forces], positions) == pytest.approx(centre, abs=1e-6)


@given(stations)
def test_load_centre_from_moments_is_the_same_centre(group):
    forces, positions = map(list, zip(*group))
    moments = sum(f * p for f, p in group)
    assert load_centre_from_moments(moments, sum(forces)) == pytest.approx(load_centre(forces, positions))


@given(stations)
def test_no_moment_is_left_after_the_shift(group):
    forces, positions = map(list, zip(*group))
    total = sum(forces)
    shift = die_shift(load_centre(forces, positions))
    moved = load_centre(forces, [p + shift for p in positions])
    assert off_centre_moment(total, moved) <= 1e-6 * total


@given(st.floats(0, 1e6), places, places)
def test_moment_has_no_side(force, centre, slide):
    assert off_centre_moment(force, centre, slide) == off_centre_moment(force, slide, centre) >= 0


def test_idle_station_does_not_move_the_centre():
    assert load_centre([100, 0], [10, 500]) == 10


def test_load_exactly_at_the_allowed_moment_has_no_margin_left():
    assert off_centre_margin(1000, 0.1 + 0.2, 300) == 0
    assert off_centre_margin(1000, 2, 1999) == -1
    assert off_centre_margin(1000, 2, 1500, 1) == 500


def test_shift_is_from_the_load_to_the_middle_of_the_slide():
    assert die_shift(-70) == 70
    assert die_shift(30, 10) == -20


REFUSED = [
    (lambda: load_centre([], []), Impossible),
    (lambda: load_centre([1, 2], [1]), Impossible),
    (lambda: load_centre([0, 0], [1, 2]), Impossible),
    (lambda: load_centre([1, -1], [1, 2]), OutOfRange),
    (lambda: load_centre([1, 1], [1, math.inf]), OutOfRange),
    (lambda: load_centre_from_moments(1, 0), OutOfRange),
    (lambda: load_centre_from_moments(math.nan, 1), OutOfRange),
    (lambda: off_centre_moment(-1, 0), OutOfRange),
    (lambda: off_centre_moment(1, math.nan), OutOfRange),
    (lambda: off_centre_moment(1, 0, math.inf), OutOfRange),
    (lambda: off_centre_margin(1, 0, 0), OutOfRange),
    (lambda: off_centre_margin(-1, 0, 1), OutOfRange),
    (lambda: off_centre_margin(1, math.inf, 1), OutOfRange),
    (lambda: off_centre_margin(1, 0, 1, math.inf), OutOfRange),
    (lambda: die_shift(math.nan), OutOfRange),
    (lambda: die_shift(0, math.nan), OutOfRange),
]


@pytest.mark.parametrize(("call", "error"), REFUSED)
def test_what_cannot_be_is_refused_with_a_sentence(call, error):
    with pytest.raises(error) as caught:
        call()
    assert caught.value.function
    assert "{" not in str(caught.value)


def test_refused_station_is_named_by_its_number():
    with pytest.raises(OutOfRange, match="forces number 2"):
        load_centre([1, -1], [1, 2])


def test_moment_is_force_times_distance_from_the_slide_centre():
    assert off_centre_moment(10, 5, 2) == 30
    assert off_centre_moment(10, -5, 2) == 70
    assert off_centre_moment(10, -5) == 50


def test_no_forces_at_all_are_refused_for_that_reason():
    with pytest.raises(Impossible, match="at least one"):
        load_centre([], [])
