"""Laws, boundaries and refusals of springs, coil and gas."""

from __future__ import annotations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pressfuncs import (
    coil_spring_rate,
    gas_spring_force,
    gas_springs_needed,
    spring_force,
    spring_length_needed,
    spring_preload,
    spring_travel_margin,
    springs_needed,
)
from pressfuncs.errors import Impossible, OutOfRange


@given(st.integers(1, 200), st.integers(1, 5000), st.integers(1, 500))
@example(springs=1, rate_tenths=1, compression_tenths=3)
@example(springs=49, rate_tenths=7, compression_tenths=11)
def test_springs_that_are_exactly_enough_are_not_given_a_further_one(springs, rate_tenths, compression_tenths):
    rate, compression = rate_tenths / 10, compression_tenths / 10
    force = spring_force(rate, compression, springs)
    assert springs_needed(force, rate, compression) == springs
    assert springs_needed(force * 1.000001, rate, compression) == springs + 1
    assert springs_needed(force * 0.999999, rate, compression) == springs


def test_one_spring_exactly_enough():
    assert springs_needed(2000, 100, 20) == 1
    assert springs_needed(2000.001, 100, 20) == 2
    assert springs_needed(1, 100, 20) == 1


@given(st.floats(1, 1e6), st.floats(0.1, 5000), st.integers(1, 50))
def test_preload_brings_the_force(force, rate, springs):
    assert spring_force(rate, spring_preload(force, rate, springs), springs) == pytest.approx(force)


def test_one_spring_takes_the_whole_force():
    assert spring_preload(9000, 100) == spring_preload(9000, 100, 1) == 90
    assert spring_force(100, 20, 1) == 2000


def test_part_of_a_spring_is_refused():
    with pytest.raises(OutOfRange, match=r"springs must be a whole number, 1 or more, got 2.5"):
        spring_preload(9000, 100, 2.5)
    with pytest.raises(OutOfRange, match="springs must be a whole number"):
        spring_force(100, 20, 0)


@given(st.integers(1, 1000), st.integers(1, 1000), st.integers(10, 60), st.integers(0, 100))
def test_spring_of_exactly_the_needed_length_has_no_margin_and_lacks_none(preload, travel, percent, grinding):
    share = percent / 100
    length = spring_length_needed(preload / 10, travel / 10, share, grinding / 10)
    assert spring_travel_margin(length, preload / 10, travel / 10, share, grinding / 10) == 0.0
    assert spring_travel_margin(length * 0.99, preload / 10, travel / 10, share, grinding / 10) < 0.0
    assert spring_travel_margin(length * 1.01, preload / 10, travel / 10, share, grinding / 10) > 0.0


def test_thirty_percent_of_the_free_length_is_the_rule():
    assert spring_travel_margin(100, 18, 12, 0.3, 0) == 0.0
    assert spring_travel_margin(100, 18, 13, 0.3, 0) == pytest.approx(-1.0)
    assert spring_length_needed(18, 12, 0.3, 0) == pytest.approx(100.0)


def test_grinding_takes_from_the_travel_that_is_left():
    assert spring_travel_margin(100, 18, 10, 0.3, 2) == 0.0
    assert spring_length_needed(18, 10, 0.3, 2) == pytest.approx(100.0)


def test_coil_spring_is_eight_times_softer_on_twice_the_diameter():
    rate = coil_spring_rate(5, 25, 8)
    assert coil_spring_rate(5, 50, 8) == pytest.approx(rate / 8)
    assert coil_spring_rate(2.5, 25, 8) == pytest.approx(rate / 16)
    assert coil_spring_rate(5, 25, 16) == pytest.approx(rate / 2)
    with pytest.raises(Impossible, match="wire 25 mm is not thinner than the mean diameter 25 mm"):
        coil_spring_rate(25, 25, 8)


@given(st.floats(100, 1e5), st.floats(1, 300), st.floats(1, 3))
def test_gas_spring_rises_from_its_initial_to_its_final_force(initial, stroke, rise):
    assert gas_spring_force(initial, 0, stroke, rise) == initial
    assert gas_spring_force(initial, stroke, stroke, rise) == pytest.approx(initial * rise)
    half = gas_spring_force(initial, stroke / 2, stroke, rise)
    assert initial <= half <= initial * (1 + rise) / 2 * (1 + 1e-12)  # below the straight line, as gas does


def test_gas_spring_by_its_volumes():
    """A gas volume of 300 cm3 from which the rod takes 100 cm3 is pressed to 1.5 times the pressure."""
    for taken in (0.0, 25.0, 50.0, 100.0):
        assert gas_spring_force(7500, taken / 2, 50, 1.5) == pytest.approx(7500 * 300 / (300 - taken))


def test_gas_spring_beyond_its_stroke_or_falling_is_refused():
    with pytest.raises(Impossible, match="travel 51 mm is more than the stroke 50 mm"):
        gas_spring_force(7500, 51, 50, 1.5)
    with pytest.raises(Impossible, match=r"rise 0\.9 is less than 1"):
        gas_spring_force(7500, 10, 50, 0.9)


@given(st.integers(1, 100), st.integers(1, 10**6))
def test_gas_springs_that_are_exactly_enough(springs, tenths):
    assert gas_springs_needed(springs * (tenths / 10), tenths / 10) == springs
    assert gas_springs_needed(springs * (tenths / 10) * 1.000001, tenths / 10) == springs + 1
