"""Laws, boundaries and refusals of the decision chapter."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import energy_margin, force_margin, load_limit, press_verdict, required_capacity, utilisation
from pressfuncs.errors import MissingValue, OutOfRange, WrongChoice
from pressfuncs.functions._checks import CHECKS, verdict
from pressfuncs.functions.decision import FRAMES
from pressfuncs.registry import FUNCTIONS

forces = st.floats(1, 1e8)
limits = st.floats(0.05, 1)
margins = st.lists(st.one_of(st.none(), st.floats(-1e6, 1e6)), min_size=len(CHECKS), max_size=len(CHECKS))
WORDS = [check.label for check in CHECKS]
KIND = [check.name for check in CHECKS].index("kind")


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


def test_load_limit_goes_by_the_frame_and_is_the_lowest_where_that_is_not_known():
    assert load_limit("straight side") == load_limit("column") == 0.8
    assert load_limit("C-frame") == load_limit() == min(map(load_limit, FRAMES)) == 0.6
    assert required_capacity(60) == 100
    assert force_margin(60, 100) == 0
    assert force_margin(61, 100) == -1
    assert required_capacity(80, 1) == 80
    assert utilisation(0, 5) == 0


def test_energy_exactly_enough_leaves_nothing():
    assert energy_margin(0.1 + 0.2, 0.3) == 0
    assert energy_margin(3, 2) == -1
    assert energy_margin(0, 0) == 0


def test_verdict_takes_the_checks_of_the_one_list_in_its_order():
    arguments = FUNCTIONS["press_verdict"].arguments
    assert [argument.name for argument in arguments] == [*(check.name for check in CHECKS), "declared"]
    assert [argument.kind for argument in arguments[:-1]] == [check.kind for check in CHECKS]


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
        assert verdict.startswith(f"not suitable: {failure(failing[0])}")
        assert verdict.count(" short by ") == len([i for i in failing if i != KIND])
    else:
        status = "partly checked" if missing else "suitable on paper"
        passed = len(WORDS) - len(missing)
        assert verdict.startswith(f"{status}: {passed} check{'s' if passed != 1 else ''} passed")
    assert verdict.endswith(f"; not checked: {', '.join(missing)}") == bool(missing)


def failure(place):
    return "another kind of press is wanted" if place == KIND else f"{WORDS[place]} short by "


@pytest.mark.parametrize("place", range(len(WORDS)))
def test_each_margin_is_called_by_its_own_name(place):
    one = [0.0] * len(WORDS)
    one[place] = -1e6
    assert press_verdict(*one).startswith(f"not suitable: {failure(place)}")
    only = [None] * len(WORDS)
    only[place] = 1.0
    assert WORDS[place] not in press_verdict(*only).split("not checked: ")[1].split(", ")


def test_verdict_gives_the_figures_in_each_system():
    verdict = press_verdict(force=-8896.443230521, closed_height=-25.4)
    words = "not suitable: force at the working height short by {}, also closed height short by {};"
    assert verdict.startswith(words.format("8.89645 kN", "25.4 mm"))
    assert verdict.shown("inch").startswith(words.format("1 tonf_us", "1 in"))


def test_margin_of_nothing_is_just_enough():
    assert press_verdict(*[0] * len(WORDS)) == "suitable on paper: 16 checks passed"


def test_what_is_declared_is_named_and_fails_all_the_same_where_it_is_short():
    most = dict.fromkeys([check.name for check in CHECKS], 1.0)
    least = {name: margin for name, margin in most.items() if name not in ("shank", "off_centre")}
    said = press_verdict(**least, declared="Shank, off-centre")
    assert said == "suitable on paper: 14 checks passed; declared, not checked: off-centre load, shank"
    assert press_verdict(**most, declared="shank") == "suitable on paper: 16 checks passed"
    short = press_verdict(**{**most, "shank": -1.0}, declared="shank")
    assert short == "not suitable: shank short by 1 mm"


def test_what_does_not_apply_is_named_too():
    most = {check.name: 1.0 for check in CHECKS if check.name != "energy"}
    said = verdict(most, not_applying=("energy",))
    assert said == "suitable on paper: 15 checks passed; does not apply: energy of a stroke"


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
    (lambda: press_verdict(1, declared="force, tonnage"), WrongChoice),
    (lambda: load_limit("wooden"), WrongChoice),
]


@pytest.mark.parametrize(("call", "error"), REFUSED)
def test_what_cannot_be_is_refused_with_a_sentence(call, error):
    with pytest.raises(error) as caught:
        call()
    assert caught.value.function
    assert "{" not in str(caught.value)
