"""Laws, boundaries and refusals of coils."""

from __future__ import annotations

import math

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from pressfuncs import (
    coil_length,
    coil_length_from_mass,
    coil_mass,
    coil_outer_diameter,
    coil_run_time,
    coils_needed,
    parts_per_coil,
    strip_speed,
)
from pressfuncs.errors import Impossible

STEEL = 7.85e-9

sizes = st.floats(0.1, 2000)
thicknesses = st.floats(0.05, 20)
shares = st.floats(0.05, 1)


@given(st.floats(100, 1000), st.floats(1.01, 4), thicknesses, shares)
def test_coil_diameter_and_length_undo_each_other(bore, ratio, thickness, fill):
    length = coil_length(bore * ratio, bore, thickness, fill)
    assert coil_outer_diameter(length, bore, thickness, fill) == pytest.approx(bore * ratio)


def test_coil_length_is_that_of_its_turns_laid_out():
    """Turn by turn at the middle of each: 346 turns of 1 mm from a bore of 508 mm."""
    turns = sum(math.pi * (508 + 2 * (i + 0.5)) for i in range(346))
    assert coil_length(1200, 508, 1, 1) == pytest.approx(turns, rel=1e-12)


@given(st.floats(100, 1000), st.floats(1.01, 4), sizes, thicknesses)
def test_coil_length_by_mass_agrees_with_that_by_diameter(bore, ratio, width, thickness):
    mass = coil_mass(bore * ratio, bore, width, STEEL)
    assert coil_length_from_mass(mass, width, thickness, STEEL) == pytest.approx(
        coil_length(bore * ratio, bore, thickness, 1)
    )


@pytest.mark.parametrize("outer", [508.0, 500.0])
def test_coil_that_is_no_larger_than_its_bore_is_refused(outer):
    with pytest.raises(Impossible, match="inner diameter 508 mm is not smaller than outer diameter"):
        coil_length(outer, 508, 2, 1)
    with pytest.raises(Impossible, match="inner diameter 508 mm is not smaller than outer diameter"):
        coil_mass(outer, 508, 100, STEEL)


@given(st.integers(0, 10_000), st.integers(1, 5000), st.integers(1, 8))
@example(pitches=3, tenths=1, per_pitch=1)
def test_coil_of_exactly_so_many_pitches_yields_them_all(pitches, tenths, per_pitch):
    pitch = tenths / 10
    loss = 10 * pitch
    assert parts_per_coil(pitches * pitch + loss, pitch, per_pitch, loss) == pitches * per_pitch
    assert parts_per_coil((pitches + 0.999) * pitch + loss, pitch, per_pitch, loss) == pitches * per_pitch


def test_coil_all_lost_at_its_ends_yields_nothing_and_more_is_refused():
    assert parts_per_coil(1000, 50, 1, 1000) == 0
    with pytest.raises(Impossible, match="end loss 1001 mm is more than the coil's 1000 mm"):
        parts_per_coil(1000, 50, 1, 1001)


@given(st.integers(0, 10**6), st.integers(1, 10**5))
def test_coils_are_exactly_enough(quantity, parts):
    coils = coils_needed(quantity, parts, 0)
    assert coils * parts >= quantity
    assert (coils - 1) * parts < quantity


def test_scrap_takes_further_coils():
    assert coils_needed(900, 100, 0.1) == 10
    assert coils_needed(901, 100, 0.1) == 11


@given(sizes, st.floats(0.1, 20), shares)
def test_coil_lasts_as_long_as_its_strokes(pitch, rate, efficiency):
    length = 1000 * pitch
    assert coil_run_time(length, pitch, rate, efficiency) * rate * efficiency == pytest.approx(1000)
    assert coil_run_time(length, pitch, rate, 1.0) * strip_speed(pitch, rate) == pytest.approx(length)
