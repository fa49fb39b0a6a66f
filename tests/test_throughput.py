"""Laws, boundaries and refusals of the throughput chapter."""

from __future__ import annotations

import math
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pressfuncs import (
    cycle_rate,
    feed_limited_rate,
    measured_efficiency,
    run_time,
    stroke_rate_needed,
    stroke_rate_throughput,
    strokes_needed,
    working_days,
)
from pressfuncs.errors import Impossible, OutOfRange

rates = st.floats(0.01, 50)
shares = st.floats(0.01, 1)
scraps = st.floats(0, 0.9)


@given(st.integers(0, 10**11), st.integers(1, 1000))
@example(quantity=100, parts=4)
@example(quantity=10**11 - 1, parts=1000)
def test_strokes_for_whole_parts_are_exactly_enough(quantity, parts):
    strokes = strokes_needed(quantity, parts, 0)
    assert strokes * parts >= quantity
    assert (strokes - 1) * parts < quantity


@given(st.integers(1, 10**9), st.integers(1, 50), st.integers(0, 99))
@example(quantity=81, parts=1, percent=10)
@example(quantity=63, parts=1, percent=30)
def test_strokes_with_scrap_are_those_of_exact_fractions(quantity, parts, percent):
    exact = math.ceil(Fraction(quantity) / (parts * (1 - Fraction(percent, 100))))
    assert strokes_needed(quantity, parts, percent / 100) == exact


@given(st.integers(1, 10**6), st.integers(1, 12))
def test_part_that_takes_several_strokes_needs_all_of_them(quantity, strokes_per_part):
    assert strokes_needed(quantity, 1 / strokes_per_part, 0) == quantity * strokes_per_part


def test_strokes_of_a_column_are_those_of_each_cell():
    quantities = np.array([0, 1, 99, 100, 101, 1e9])
    assert strokes_needed(quantities, 4, 0).tolist() == [strokes_needed(q, 4, 0) for q in quantities]


@given(rates, st.integers(1, 20), shares, scraps)
def test_output_is_never_more_than_every_stroke_could_make(rate, parts, efficiency, scrap):
    output = stroke_rate_throughput(rate, parts, efficiency, scrap)
    assert 0 < output <= rate * parts
    assert stroke_rate_throughput(rate, parts, efficiency, 0) >= output
    assert stroke_rate_needed(output, parts, efficiency, scrap) == pytest.approx(rate)


def test_output_of_a_press_that_never_stops_is_every_stroke():
    assert stroke_rate_throughput(1.5, 4, 1, 0) == 6
    assert stroke_rate_throughput(1.5, 4, 0.5, 0.5) == 1.5
    assert stroke_rate_needed(6, 4, 0.5, 0.5) == 6


@given(rates, shares, st.floats(60, 1e6), st.integers(1, 9))
def test_measured_efficiency_finds_the_one_that_was_put_in(rate, efficiency, seconds, parts):
    good = stroke_rate_throughput(rate, parts, efficiency, 0) * seconds
    assert measured_efficiency(good, seconds, rate, parts) == pytest.approx(efficiency)


def test_measured_efficiency_of_one_is_the_most():
    assert measured_efficiency(100, 50, 2, 1) == 1
    assert measured_efficiency(0, 50, 2, 1) == 0
    with pytest.raises(Impossible, match="101 good parts"):
        measured_efficiency(101, 50, 2, 1)


def test_run_time_adds_setup_and_stops():
    assert run_time(7200, 2, 0, 0, 0) == 3600
    assert run_time(7200, 2, 600, 0, 0) == 4200
    assert run_time(7200, 2, 600, 3, 100) == 4500
    assert run_time(0, 2, 600, 0, 0) == 600


def test_day_of_24_hours_is_the_longest():
    assert working_days(86400, 86400) == 1
    assert working_days(43200, 28800) == 1.5
    assert working_days(0, 28800) == 0
    with pytest.raises(Impossible, match="a day has no"):
        working_days(86400, 90000)


@given(st.floats(1, 1000), st.floats(1, 2000), st.floats(0.1, 2 * math.pi))
def test_feed_can_bring_one_pitch_in_its_window(pitch, speed, window):
    rate = feed_limited_rate(pitch, speed, window)
    time_to_move = window / (2 * math.pi) / rate
    assert speed * time_to_move == pytest.approx(pitch)
    assert feed_limited_rate(2 * pitch, speed, window) == pytest.approx(rate / 2)


def test_a_feed_window_of_a_turn_is_the_most():
    assert feed_limited_rate(50, 500, math.pi) == pytest.approx(5)
    assert feed_limited_rate(50, 500, 2 * math.pi) == pytest.approx(10)
    with pytest.raises(Impossible, match="more than a turn"):
        feed_limited_rate(50, 500, 6.3)


def test_cycle_rate_is_one_stroke_a_cycle():
    assert cycle_rate(8) == 0.125


REFUSED = [
    (lambda: stroke_rate_throughput(0, 1, 0.8, 0), OutOfRange),
    (lambda: stroke_rate_throughput(1, 0, 0.8, 0), OutOfRange),
    (lambda: stroke_rate_throughput(1, 1, 80, 0), OutOfRange),
    (lambda: stroke_rate_throughput(1, 1, 0, 0), OutOfRange),
    (lambda: stroke_rate_throughput(1, 1, 0.8, -0.1), OutOfRange),
    (lambda: stroke_rate_throughput(1, 1, 0.8, 1), OutOfRange),
    (lambda: stroke_rate_needed(0, 1, 0.8, 0), OutOfRange),
    (lambda: stroke_rate_needed(1, 0, 0.8, 0), OutOfRange),
    (lambda: stroke_rate_needed(1, 1, 1.2, 0), OutOfRange),
    (lambda: stroke_rate_needed(1, 1, 0.8, 1), OutOfRange),
    (lambda: measured_efficiency(-1, 1, 1, 1), OutOfRange),
    (lambda: measured_efficiency(1, 0, 1, 1), OutOfRange),
    (lambda: measured_efficiency(1, 1, 0, 1), OutOfRange),
    (lambda: measured_efficiency(1, 1, 1, 0), OutOfRange),
    (lambda: strokes_needed(1.5, 1, 0), OutOfRange),
    (lambda: strokes_needed(-1, 1, 0), OutOfRange),
    (lambda: strokes_needed(1, 0, 0), OutOfRange),
    (lambda: strokes_needed(1, 1, 5), OutOfRange),
    (lambda: strokes_needed(1, 1, -0.1), OutOfRange),
    (lambda: run_time(-1, 1, 0, 0, 0), OutOfRange),
    (lambda: run_time(1, 0, 0, 0, 0), OutOfRange),
    (lambda: run_time(1, 1, -1, 0, 0), OutOfRange),
    (lambda: run_time(1, 1, 0, 0.5, 0), OutOfRange),
    (lambda: run_time(1, 1, 0, -1, 0), OutOfRange),
    (lambda: run_time(1, 1, 0, 1, -1), OutOfRange),
    (lambda: working_days(-1, 1), OutOfRange),
    (lambda: working_days(1, 0), OutOfRange),
    (lambda: feed_limited_rate(0, 1, 1), OutOfRange),
    (lambda: feed_limited_rate(1, 0, 1), OutOfRange),
    (lambda: feed_limited_rate(1, 1, 0), OutOfRange),
    (lambda: cycle_rate(0), OutOfRange),
]


@pytest.mark.parametrize(("call", "error"), REFUSED)
def test_what_cannot_be_is_refused_with_a_sentence(call, error):
    with pytest.raises(error) as caught:
        call()
    assert caught.value.function
    assert "{" not in str(caught.value)


def test_no_scrap_and_no_stops_are_written_as_0():
    assert stroke_rate_needed(6, 4, 0.5, 0) == 3
    assert measured_efficiency(50, 50, 2, 1) == 0.5
    assert strokes_needed(50, 1, 0) == 50
    assert run_time(100, 2, 0, 0, 1000) == run_time(100, 2, 0, 5, 0) == 50


def test_only_float_noise_is_more_than_all_there_is():
    assert measured_efficiency(100 * (1 + 1e-12), 50, 2, 1) == pytest.approx(1)
    assert working_days(86400, 86400 * (1 + 1e-12)) == pytest.approx(1)
    with pytest.raises(Impossible):
        measured_efficiency(100 * (1 + 1e-7), 50, 2, 1)
    with pytest.raises(Impossible):
        working_days(86400, 86400 * (1 + 1e-7))
