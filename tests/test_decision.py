"""Laws, boundaries and refusals of the decision chapter."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import energy_margin, force_margin, press_verdict, required_capacity, utilisation
from pressfuncs.errors import MissingValue, OutOfRange
from pressfuncs.functions.decision import CHECKS

forces = st.floats(1, 1e8)
limits = st.floats(0.05, 1)
margins = st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), min_size=len(CHECKS), max_size=len(CHECKS))
WORDS = [words for words, _ in CHECKS.values()]


@given(forces, limits)
def test_required_capacity_is_never_below_the_force(force, limit):
    capacity = required_capacity(force, limit)
    assert capacity >= force
    assert force_margin(force, capacity, limit) == 0
    assert utilisation(force, capacity) == pytest.approx(limit)


@given(forces, forces, limits)
def test_margin_is_negative_exactly_where_the_required_capacity_is_missing(force, capacity, limit):
    margin = force_margin(force, capacity, limit)
    if abs(capacity * limit - force) > 1e-6 * capacity:
        assert (margin < 0) == (required_capacity(force, limit) > capacity)


def test_usual_load_limit_is_four_fifths():
    assert required_capacity(80) == 100
    assert force_margin(80, 100) == 0
    assert force_margin(81, 100) == -1
    assert required_capacity(80, 1) == 80
    assert utilisation(0, 5) == 0


def test_energy_exactly_enough_leaves_nothing():
    assert energy_margin(0.1 + 0.2, 0.3) == 0
    assert energy_margin(3, 2) == -1
    assert energy_margin(0, 0) == 0


@given(margins)
def test_verdict_fails_on_the_first_negative_margin_and_passes_nothing_unchecked(given_margins):
    if all(margin is None for margin in given_margins):
        with pytest.raises(MissingValue):
            press_verdict(*given_margins)
        return
    verdict = press_verdict(*given_margins)
    failing = [i for i, margin in enumerate(given_margins) if margin is not None and margin < 0]
    missing = [WORDS[i] for i, margin in enumerate(given_margins) if margin is None]
    if failing:
        assert verdict.startswith(f"not suitable: {WORDS[failing[0]]} short by ")
        assert verdict.count(" short by ") == len(failing)
    elif missing:
        assert verdict.startswith(f"not fully checked: {10 - len(missing)} of 10 checks passed; ")
    else:
        assert verdict == "suitable on paper: all 10 checks passed"
    assert verdict.endswith(f"; not checked: {', '.join(missing)}") == bool(missing)


@pytest.mark.parametrize(("place", "words"), list(enumerate(WORDS)))
def test_each_margin_is_called_by_its_own_name(place, words):
    one = [0.0] * len(WORDS)
    one[place] = -1e6
    assert press_verdict(*one).startswith(f"not suitable: {words} short by ")
    only = [None] * len(WORDS)
    only[place] = 1.0
    assert words not in press_verdict(*only)


def test_verdict_gives_the_figures_in_each_system():
    verdict = press_verdict(force_margin=-8896.443230521, closed_height_margin=-25.4)
    assert verdict.startswith("not suitable: force short by 8.89645 kN, also closed height short by 25.4 mm;")
    assert verdict.shown("inch").startswith(
        "not suitable: force short by 1 tonf_us, also closed height short by 1 in;"
    )


def test_margin_of_nothing_is_just_enough():
    assert press_verdict(*[0] * len(WORDS)) == "suitable on paper: all 10 checks passed"


REFUSED = [
    (lambda: required_capacity(1, 1.25), OutOfRange),
    (lambda: required_capacity(1, 0), OutOfRange),
    (lambda: required_capacity(1, 80), OutOfRange),
    (lambda: required_capacity(-1), OutOfRange),
    (lambda: utilisation(1, 0), OutOfRange),
    (lambda: utilisation(-1, 1), OutOfRange),
    (lambda: force_margin(1, 0), OutOfRange),
    (lambda: force_margin(-1, 1), OutOfRange),
    (lambda: force_margin(1, 1, 1.25), OutOfRange),
    (lambda: energy_margin(-1, 1), OutOfRange),
    (lambda: energy_margin(1, -1), OutOfRange),
    (lambda: press_verdict(), MissingValue),
    (lambda: press_verdict(math.nan), OutOfRange),
    (lambda: press_verdict(1, math.inf), OutOfRange),
]


@pytest.mark.parametrize(("call", "error"), REFUSED)
def test_what_cannot_be_is_refused_with_a_sentence(call, error):
    with pytest.raises(error) as caught:
        call()
    assert caught.value.function
    assert "{" not in str(caught.value)
