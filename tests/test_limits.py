"""Each way of refusing takes numbers, series, arrays and Quantities, and names all that it refuses."""

import math

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs import limits
from pressfuncs.errors import Impossible, NotInTable, OutOfRange, WrongChoice, WrongType
from pressfuncs.limits import finite, loss, not_negative, one_of, positive, require, share, whole, within
from pressfuncs.quantities import LENGTH

UNITS = pint.UnitRegistry()

RULES = {
    "positive": (positive, lambda x: x > 0),
    "not_negative": (not_negative, lambda x: x >= 0),
    "finite": (finite, lambda x: True),
    "within": (lambda **arguments: within(-1.0, 2.0, **arguments), lambda x: -1 <= x <= 2),
    "share": (share, lambda x: 0 < x <= 1),
    "loss": (loss, lambda x: 0 <= x < 1),
    "whole": (whole, lambda x: x >= 1 and x == int(x)),
    "whole from 3": (lambda **arguments: whole(3, **arguments), lambda x: x >= 3 and x == int(x)),
}
BOUNDARIES = [-2.0, -1.0, -5e-324, -0.0, 0.0, 5e-324, 0.5, 1.0, 1.0000000000000002, 1.5, 2.0, 2.0000000000000004]
NUMBERS = [*BOUNDARIES, 3.0, 1e300, math.inf, -math.inf, math.nan]

every_rule = pytest.mark.parametrize("rule", RULES)


def refuses(rule: str, value: object) -> bool:
    try:
        RULES[rule][0](value=value)
    except OutOfRange:
        return True
    return False


@every_rule
@pytest.mark.parametrize("value", NUMBERS)
def test_rule_holds_exactly_up_to_its_boundary(rule, value):
    allowed = math.isfinite(value) and RULES[rule][1](value)
    for same in (value, np.float64(value), UNITS.Quantity(value, ""), [value], (1.0, 2.0, value)):
        if isinstance(same, tuple):
            expected = allowed and RULES[rule][1](1.0) and RULES[rule][1](2.0)
        else:
            expected = allowed
        assert refuses(rule, same) is not expected


@every_rule
@given(st.lists(st.sampled_from(NUMBERS), min_size=1, max_size=6))
def test_mask_of_an_array_marks_the_elements_that_are_refused_singly(rule, values):
    expected = [refuses(rule, value) for value in values]
    if not any(expected):
        RULES[rule][0](value=np.array(values))
        return
    with pytest.raises(OutOfRange) as refusal:
        RULES[rule][0](value=np.array(values))
    assert refusal.value.bad.tolist() == expected
    assert refuses(rule, refusal.value.value)


@every_rule
@pytest.mark.parametrize("value", [None, "5", True, False])
def test_what_is_no_number_is_refused_by_type(rule, value):
    with pytest.raises(WrongType, match=r"value is .*, a number is wanted"):
        RULES[rule][0](value=value)


@pytest.mark.parametrize("value", [1.0, 5, 0.25])
def test_quantity_with_a_unit_is_compared_with_zero(value):
    positive(value=UNITS.Quantity(value, "mm"))
    with pytest.raises(OutOfRange):
        positive(value=UNITS.Quantity(-value, "mm"))
    with pytest.raises(OutOfRange):
        positive(value=UNITS.Quantity(math.inf, "mm"))


@pytest.mark.parametrize(
    ("call", "sentence"),
    [
        (lambda: positive(a=0.0, b=-1.0), "a must be greater than 0, got 0; b must be greater than 0, got -1"),
        (lambda: not_negative(a=-0.5), "a must not be less than 0, got -0.5"),
        (lambda: within(1.0, 2.0, a=2.5), "a must be from 1 to 2, got 2.5"),
        (lambda: share(a=10.0), "a must be greater than 0 and at most 1 (10 % is 0.1), got 10"),
        (lambda: loss(a=1.0), "a must be 0 or more and less than 1 (10 % is 0.1), got 1"),
        (lambda: whole(a=2.5), "a must be a whole number, 1 or more, got 2.5"),
        (lambda: positive(a=math.nan, b=0.0), "a is not a finite number; b must be greater than 0, got 0"),
        (lambda: positive(a=math.inf), "a is not a finite number"),
        (lambda: positive(a=[1.0, 0.0]), "a number 2 must be greater than 0, got 0"),
        (lambda: positive(a=np.array([3.0, -2.0, 0.0])), "a must be greater than 0, got -2"),
    ],
)
def test_sentence_says_what_is_wanted_and_what_was_found(call, sentence):
    with pytest.raises(OutOfRange) as refusal:
        call()
    assert str(refusal.value) == sentence


def test_numbers_that_do_not_go_together_are_refused():
    require(3.0 < 4.0, "rod {rod} is not smaller than bore {bore}", rod=3.0, bore=4.0)
    with pytest.raises(Impossible) as refusal:
        require(80.0 < 63.0, "rod {rod} is not smaller than bore {bore}", rod=(80.0, LENGTH), bore=(63.0, LENGTH))
    assert str(refusal.value) == "rod 80 mm is not smaller than bore 63 mm"
    assert refusal.value.sentence("inch").startswith("rod 3.149606299 in")
    assert (refusal.value.argument, refusal.value.value) == ("rod", 80.0)


def test_numbers_of_an_array_that_do_not_go_together_are_marked():
    rod, bore = np.array([30.0, 80.0]), np.array([63.0, 63.0])
    with pytest.raises(Impossible) as refusal:
        require(rod < bore, "rod {rod} is not smaller than bore {bore}", rod=rod, bore=63.0)
    assert refusal.value.bad.tolist() == [False, True]
    assert str(refusal.value) == "rod 80 is not smaller than bore 63"


def test_text_that_is_no_choice_is_refused_with_the_nearest():
    one_of(["ratio", "smooth"], model="ratio")
    with pytest.raises(WrongChoice) as refusal:
        one_of(["ratio", "smooth"], model="smoth")
    assert str(refusal.value) == 'model "smoth" is not known, nearest: smooth; choose from ratio, smooth'
    with pytest.raises(WrongChoice, match='model "x" is not known, choose from ratio, smooth'):
        one_of(["ratio", "smooth"], model="x")


def test_long_list_of_choices_is_not_written_out():
    grades = ["DC01", *(f"grade {number}" for number in range(40))]
    with pytest.raises(WrongChoice) as refusal:
        one_of(grades, material="DC1")
    assert str(refusal.value) == 'material "DC1" is not known, nearest: DC01'
    with pytest.raises(WrongChoice) as refusal:
        one_of(grades, material="zzz")
    assert str(refusal.value).endswith(f"{grades[limits._LISTED - 1]}, ...")


def test_figure_that_is_missing_is_not_in_the_table():
    with pytest.raises(NotInTable, match="no density is given") as refusal:
        limits.not_in_table("no density is given for it", "material", "X")
    assert (refusal.value.argument, refusal.value.value) == ("material", "X")
