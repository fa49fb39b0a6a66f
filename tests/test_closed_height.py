"""Laws, boundaries and refusals of the closed-height chapter."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st

from pressfuncs import (
    adjustment_margin,
    adjustment_needed,
    bed_margin,
    closed_height_fit,
    closed_height_margin,
    height_after_regrind,
    opening_at_top,
    part_clearance_margin,
    shank_margin,
    sharpenings_left,
    shut_height_adjustment_up,
    slide_face_margin,
    spacer_needed,
    tool_opening,
)
from pressfuncs.errors import Impossible, OutOfRange

heights = st.floats(50, 1000)
small = st.floats(0, 150)


@given(heights, heights, small, small, small)
def test_fit_text_agrees_with_the_signs_of_both_margins(die, press, adjustment, bolster, spacer):
    assume(bolster < press)
    text = closed_height_fit(die, press, adjustment, bolster, spacer)
    if closed_height_margin(die, press, bolster, spacer) < 0:
        assert text.startswith("too tall by ")
    elif adjustment_margin(die, press, adjustment, bolster, spacer) < 0:
        assert text.startswith("too short by ")
    else:
        assert text == "fits"


@given(heights, heights, small, small)
def test_fit_text_agrees_with_the_spacer_needed(die, press, adjustment, bolster):
    assume(bolster < press)
    text = closed_height_fit(die, press, adjustment, bolster, 0)
    spacer = spacer_needed(die, press, adjustment, bolster)
    assert (text == "fits") == (spacer == 0)
    assert text.startswith("too short") == (spacer > 0)
    assert text.startswith("too tall") == (spacer < 0)


@given(heights, heights, small, small)
def test_die_fits_with_the_spacer_that_it_needs(die, press, adjustment, bolster):
    assume(bolster < press)
    spacer = spacer_needed(die, press, adjustment, bolster)
    if spacer >= 0:
        assert closed_height_fit(die, press, adjustment, bolster, spacer) == "fits"
        assert adjustment_needed(die, press, adjustment, bolster, spacer) <= adjustment
    else:
        assert closed_height_fit(die, press, adjustment, bolster, 0) != "fits"
        thinner = bolster + spacer
        if thinner >= 0:
            assert closed_height_fit(die, press, adjustment, thinner, 0) == "fits"


@given(heights, heights, small, small, small)
@example(die=250.0, press=330.0, adjustment=0.0, bolster=80.0, spacer=0.0)
def test_slide_let_down_by_the_adjustment_needed_closes_the_die(die, press, adjustment, bolster, spacer):
    assume(bolster < press)
    if closed_height_fit(die, press, adjustment, bolster, spacer) == "fits":
        down = adjustment_needed(die, press, adjustment, bolster, spacer)
        assert 0 <= down <= adjustment
        assert press - bolster - spacer - down == pytest.approx(die)
    else:
        with pytest.raises(Impossible):
            adjustment_needed(die, press, adjustment, bolster, spacer)


@given(heights, heights, st.floats(0, 500))
def test_taller_die_never_has_more_room(die, press, more):
    assert closed_height_margin(die + more, press, 0, 0) <= closed_height_margin(die, press, 0, 0)


@pytest.mark.parametrize(
    ("die", "press", "bolster", "spacer"),
    [
        (250, 330, 80, 0),
        (0.3, 0.4, 0.1, 0),
        (10.5 * 25.4, 266.7, 0, 0),
        (0.1 + 0.2, 0.3, 0, 0),
        (100.1, 300.3, 200.2, 0),
    ],
)
def test_die_exactly_as_high_as_the_room_fits(die, press, bolster, spacer):
    assert closed_height_margin(die, press, bolster, spacer) == 0
    assert closed_height_fit(die, press, 0, bolster, spacer) == "fits"
    assert spacer_needed(die, press, 0, bolster) == 0
    assert adjustment_margin(die, press, 0, bolster, spacer) == 0
    assert adjustment_needed(die, press, 0, bolster, spacer) == 0


def test_hundredth_of_a_millimetre_too_tall_does_not_fit():
    assert closed_height_margin(250.01, 330, 80, 0) == pytest.approx(-0.01)
    assert closed_height_fit(250.01, 330, 60, 80, 0) == "too tall by 0.01 mm"
    assert closed_height_fit(190, 330, 60, 80, 0) == "fits"
    assert closed_height_fit(189.99, 330, 60, 80, 0).startswith("too short by 0.01 mm")


def test_fit_text_says_what_to_do_in_each_system():
    short = closed_height_fit(160, 330, 60, 80, 0)
    assert short == "too short by 30 mm: needs 30 mm to 90 mm of spacer"
    assert short.shown("inch") == "too short by 1.18111 in: needs 1.18111 in to 3.5433 in of spacer"  # safe ends
    assert closed_height_fit(160, 330, 60, 80, 10) == "too short by 20 mm: needs 20 mm to 80 mm more spacer"
    assert closed_height_fit(160, 330, 60, 80, 95) == "too tall by 5 mm: the spacer is 5 mm too thick"
    assert closed_height_fit(249, 330, 60, 80, 2) == "too tall by 1 mm: the spacer is 1 mm too thick"
    assert closed_height_fit(251, 330, 60, 80, 0.5) == "too tall by 1.5 mm"
    assert closed_height_fit(250, 330, 60, 80, 2) == "too tall by 2 mm: the spacer is 2 mm too thick"


def test_bolster_and_spacer_are_deducted_one_for_one():
    assert closed_height_margin(100, 330, 0, 0) == 230
    assert closed_height_margin(100, 330, 80, 0) == 150
    assert closed_height_margin(100, 330, 80, 20) == 130
    assert adjustment_margin(100, 330, 150, 80, 20) == 20
    assert shut_height_adjustment_up(270, 60) == 330


def test_opening_is_the_shut_height_and_the_stroke_less_all_that_stands_in_it():
    assert opening_at_top(330, 100, 0, 0, 0) == 430
    assert opening_at_top(330, 100, 80, 20, 10) == 320
    assert opening_at_top(330, 100, 300, 20, 10) == 100
    assert tool_opening(100, 0) == 100
    assert tool_opening(100, 100) == 0


def test_part_that_just_passes_has_no_margin_left():
    assert part_clearance_margin(0.3, 0.1, 0.2) == 0
    assert part_clearance_margin(97, 40, 60) == -3
    assert part_clearance_margin(97, 40, 0) == 57


@given(heights, st.floats(0, 1), st.integers(0, 40))
def test_regrinding_never_adds_height(die, grind, count):
    assert height_after_regrind(die, grind, count) == pytest.approx(die - grind * count)


@given(heights, st.floats(0.01, 5), st.floats(0, 40))
def test_sharpenings_left_never_go_below_the_lowest_height(die, grind, reserve):
    lowest = die - reserve
    left = sharpenings_left(die, lowest, grind)
    assert die - left * grind >= lowest - 1e-9 * die
    assert die - (left + 1) * grind < lowest + 1e-9 * die


def test_last_sharpening_is_not_lost_to_float_noise():
    assert sharpenings_left(240, 234, 0.3) == 20
    assert sharpenings_left(240, 234.01, 0.3) == 19
    assert sharpenings_left(240, 240, 0.3) == 0


def test_bed_and_slide_give_the_smaller_of_both_directions():
    assert bed_margin(900, 600, 700, 480, 0, 0) == 120
    assert bed_margin(900, 600, 700, 480, 50, 50) == 20
    assert bed_margin(900, 600, 700, 480, 90, 0) == 20
    assert bed_margin(600, 900, 480, 700, 50, 50) == 20
    assert bed_margin(900, 600, 900, 600, 0, 0) == 0
    assert bed_margin(900, 600, 910, 400, 0, 0) == -10
    assert slide_face_margin(600, 450, 500, 400, 10, 30) == -10
    assert slide_face_margin(600, 450, 500, 400, 40, 20) == 10
    assert slide_face_margin(0.3, 450, 0.1, 400, 0.1, 0) == 0


def test_shank_of_the_size_of_the_bore_goes_in():
    assert shank_margin(50.8, 2 * 25.4) == 0
    assert shank_margin(40, 50) == -10


REFUSED = [
    (lambda: closed_height_margin(0, 330, 0, 0), OutOfRange),
    (lambda: closed_height_margin(100, 0, 0, 0), OutOfRange),
    (lambda: closed_height_margin(100, 330, -1, 0), OutOfRange),
    (lambda: closed_height_margin(100, 330, 0, -1), OutOfRange),
    (lambda: closed_height_margin(100, 330, 330, 0), Impossible),
    (lambda: closed_height_margin(math.nan, 330, 0, 0), OutOfRange),
    (lambda: adjustment_needed(100, 330, -1, 0, 0), OutOfRange),
    (lambda: adjustment_margin(100, 330, -1, 0, 0), OutOfRange),
    (lambda: adjustment_margin(0, 330, 1, 0, 0), OutOfRange),
    (lambda: spacer_needed(100, 330, -1, 0), OutOfRange),
    (lambda: spacer_needed(0, 330, 1, 0), OutOfRange),
    (lambda: closed_height_fit(0, 330, 1, 0, 0), OutOfRange),
    (lambda: closed_height_fit(100, 330, -1, 0, 0), OutOfRange),
    (lambda: shut_height_adjustment_up(0, 60), OutOfRange),
    (lambda: shut_height_adjustment_up(270, -1), OutOfRange),
    (lambda: opening_at_top(330, 0, 0, 0, 0), OutOfRange),
    (lambda: opening_at_top(0, 100, 0, 0, 0), OutOfRange),
    (lambda: opening_at_top(330, 100, 0, 0, -1), OutOfRange),
    (lambda: opening_at_top(330, 100, 300, 20, 11), Impossible),
    (lambda: tool_opening(100, 101), Impossible),
    (lambda: tool_opening(0, 0), OutOfRange),
    (lambda: tool_opening(100, -1), OutOfRange),
    (lambda: part_clearance_margin(0, 1, 0), OutOfRange),
    (lambda: part_clearance_margin(1, -1, 0), OutOfRange),
    (lambda: part_clearance_margin(1, 1, -1), OutOfRange),
    (lambda: height_after_regrind(0, 0.3, 1), OutOfRange),
    (lambda: height_after_regrind(100, -0.3, 1), OutOfRange),
    (lambda: height_after_regrind(100, 0.3, 1.5), OutOfRange),
    (lambda: height_after_regrind(10, 1, 10), Impossible),
    (lambda: sharpenings_left(100, 101, 0.3), Impossible),
    (lambda: sharpenings_left(100, 90, 0), OutOfRange),
    (lambda: sharpenings_left(100, 0, 0.3), OutOfRange),
    (lambda: bed_margin(0, 1, 1, 1, 0, 0), OutOfRange),
    (lambda: bed_margin(1, 1, 1, 1, -1, 0), OutOfRange),
    (lambda: bed_margin(1, 1, 1, 1, 0, -1), OutOfRange),
    (lambda: slide_face_margin(1, 1, 0, 1, 0, 0), OutOfRange),
    (lambda: slide_face_margin(1, 1, 1, 1, -1, 0), OutOfRange),
    (lambda: shank_margin(0, 1), OutOfRange),
    (lambda: shank_margin(1, 0), OutOfRange),
]


@pytest.mark.parametrize(("call", "error"), REFUSED)
def test_what_cannot_be_is_refused_with_a_sentence(call, error):
    with pytest.raises(error) as caught:
        call()
    assert caught.value.function
    assert "{" not in str(caught.value)


def test_refused_adjustment_says_which_way_it_fails():
    with pytest.raises(Impossible, match="too tall by 5 mm"):
        adjustment_needed(255, 330, 60, 80, 0)
    with pytest.raises(Impossible, match="too short by 30 mm: put in a spacer"):
        adjustment_needed(160, 330, 60, 80, 0)


def test_what_takes_no_room_is_written_as_0():
    assert adjustment_needed(200, 250, 60, 0, 0) == 50
    assert adjustment_margin(200, 250, 60, 0, 0) == 10
    assert spacer_needed(150, 250, 60, 0) == 40
    assert closed_height_fit(250, 250, 0, 0, 0) == "fits"
    assert part_clearance_margin(10, 10, 0) == 0
    assert bed_margin(10, 10, 10, 9, 0, 0) == bed_margin(10, 10, 9, 10, 0, 0) == 0
    assert slide_face_margin(10, 10, 10, 9, 0, 0) == slide_face_margin(10, 10, 9, 10, 0, 0) == 0


def test_adjustment_exactly_used_up_is_enough_in_spite_of_float_noise():
    assert 0.4 - 0.1 != 0.3
    assert adjustment_margin(0.1, 0.4, 0.3, 0, 0) == 0
    assert adjustment_needed(0.1, 0.4, 0.3, 0, 0) == 0.3
    assert spacer_needed(0.1, 0.4, 0.3, 0) == 0
    assert closed_height_fit(0.1, 0.4, 0.3, 0, 0) == "fits"
    assert shank_margin(0.3, 0.1 + 0.2) == 0
    assert bed_margin(9, 0.1 + 0.2, 1, 0.3, 0, 0) == bed_margin(0.1 + 0.2, 9, 0.3, 1, 0, 0) == 0


def test_half_a_millimetre_too_short_is_refused():
    with pytest.raises(Impossible, match=r"too short by 0\.5 mm"):
        adjustment_needed(189.5, 330, 60, 80, 0)
    assert closed_height_fit(189, 330, 60, 80, 0.5) == "too short by 0.5 mm: needs 0.5 mm to 60.5 mm more spacer"
