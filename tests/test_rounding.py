"""Float noise at boundaries: what counts as noise, what does not, and that units and arrays go through."""

from __future__ import annotations

import numpy as np
import pint
import pytest

from pressfuncs import relief_for_force
from pressfuncs.functions._rounding import round_down, round_up, settle

UNITS = pint.UnitRegistry()


def test_settled_difference_keeps_its_unit():
    millimetre = UNITS.Quantity(1.0, "mm")
    assert settle(1e-12 * millimetre, 500 * millimetre).check("[length]")
    assert settle(1e-12 * millimetre, 500 * millimetre).magnitude == 0.0


def test_relief_that_is_not_needed_is_a_length_of_nothing():
    force, millimetre = UNITS.Quantity(1000.0, "N"), UNITS.Quantity(1.0, "mm")
    found = relief_for_force(force, 3 * millimetre, 0.4, 2 * force)
    assert found.check("[length]")
    assert found.magnitude == 0.0


@pytest.mark.parametrize("sign", [1, -1])
def test_noise_is_settled_and_what_can_be_measured_is_not(sign):
    assert settle(sign * 4.9e-7, 500.0) == 0.0
    assert settle(sign * 5.1e-7, 500.0) == sign * 5.1e-7
    assert settle(np.array([4.9e-7, 5.1e-7]), 500.0).tolist() == [0.0, 5.1e-7]


def test_counts_are_exact_up_to_a_hundred_thousand_million():
    assert round_up(100_000_000_000.2) == 100_000_000_001
    assert round_down(100_000_000_000.8) == 100_000_000_000
    assert round_up(3 * (0.1 + 0.2) / 0.9) == 1
    assert round_down(0.9 / (3 * (0.1 + 0.2))) == 1
