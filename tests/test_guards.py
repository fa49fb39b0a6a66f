"""Guards and stand-ins, on the values that the engine hands over."""

from __future__ import annotations

from typing import Any

import pytest

from pressfuncs.batch import guards
from pressfuncs.batch.guards import REFUSED, error

NA = error("Na")


@pytest.mark.parametrize(
    ("value", "number", "plain"),
    [
        (1.5, 1.5, 1.5),
        (None, 0.0, None),
        (True, 1.0, REFUSED),
        (" 12 ", 12.0, 12.0),
        ("1e3", 1000.0, 1000.0),
        ("abc", error("Value"), error("Value")),
        ("1,000", REFUSED, REFUSED),
        (NA, NA, NA),
        (
            [[1.0, "x"], [None, "5%"]],
            [[1.0, error("Value")], [0.0, REFUSED]],
            [[1.0, error("Value")], [None, REFUSED]],
        ),
    ],
)
def test_numbers_are_read_and_doubtful_ones_refused(value: Any, number: Any, plain: Any) -> None:
    assert guards.number(value) == number
    assert guards.plain(value) == plain


@pytest.mark.parametrize(
    ("base", "exponent", "want"),
    [
        (2.0, 10.0, 1024.0),
        (-2.0, 3.0, -8.0),
        (4.0, -0.5, 0.5),
        (0.0, 2.0, 0.0),
        (0.0, 0.0, error("Num")),
        (None, None, error("Num")),
        (0.0, -1.0, error("Div")),
        (-8.0, 1 / 3, REFUSED),
        (-8.0, -1 / 3, REFUSED),
        (-8.0, 0.5, error("Num")),
        (-8.0, 0.3, error("Num")),
        (1e300, 2.0, error("Num")),
        ("2", True, 2.0),
        (NA, 2.0, NA),
        ([[1.0, 2.0]], [[2.0], [3.0]], [[1.0, 4.0], [1.0, 8.0]]),
        ([[1.0, 2.0]], [[2.0, 2.0, 2.0]], [[1.0, 4.0, NA]]),
    ],
)
def test_powers(base: Any, exponent: Any, want: Any) -> None:
    assert guards.power(base, exponent) == want


@pytest.mark.parametrize(
    ("value", "want"),
    [(61.0, 61.0), (60.9, REFUSED), (None, REFUSED), (True, REFUSED), (2958466.0, REFUSED), (NA, NA)],
)
def test_dates_before_march_1900_and_after_9999_are_refused(value: Any, want: Any) -> None:
    assert guards.date(value) == want
    assert guards.date([[value]]) == [[want]]


def test_remainders_have_the_sign_of_the_divisor() -> None:
    assert [guards.modulo(7.0, -3.0), guards.modulo(-7.0, 3.0), guards.modulo(7.5, 2.5)] == [-2, 2, 0]
    assert guards.modulo(1.0, 0.1) == REFUSED  # 0, or nearly 0.1
    assert guards.modulo(1.0, 0.0) == error("Div")
    assert guards.modulo(2.0**27 - 1, 1.0) == 0
    assert guards.modulo(2.0**27, 1.0) == REFUSED


def test_times_and_days() -> None:
    assert [guards.time(6.0, 30.0, 0.0), guards.time(25.0, 0.0, 0.0)] == [6.5 / 24, 1 / 24]
    assert guards.time(0.0, -1.0, 0.0) == guards.time(32768.0, 0.0, 0.0) == error("Num")
    assert guards.time(1.0, -1.0, 0.0) == guards.time(1.0, -1.9, 0.0) == 59 / 1440
    assert guards.time([[1.0]], 0.0, 0.0) == error("Value")
    assert [guards.days(61.9, 59.1), guards.days("61", None)] == [2, 61]
    assert guards.days(-1.0, 0.0) == error("Num")


def test_angles_places_and_results() -> None:
    assert guards.angle(2.0**27 - 1) == 2.0**27 - 1
    assert guards.angle(-(2.0**27)) == error("Num")
    assert [guards.place(1.2), guards.place("2"), guards.place(None)] == [2, 2, None]
    assert [guards.finite(1.0), guards.finite(float("inf")), guards.finite("x")] == [1.0, error("Num"), "x"]
    assert [guards.not_negative(0.0), guards.not_negative(-1.0)] == [0.0, error("Num")]


def test_replacing_counts_from_one_and_appends_beyond_the_end() -> None:
    assert guards.replace("abc", 2.0, 1.0, "xy") == "axyc"
    assert guards.replace("abc", 9.0, 1.0, "x") == "abcx"
    assert guards.replace("abc", 0.0, 1.0, "x") == guards.replace("abc", 1.0, -1.0, "x") == error("Value")
    assert guards.replace(NA, 1.0, 1.0, "x") == NA


def test_what_is_refused_is_no_error_to_be_caught() -> None:
    catching = {name: entry[0] for name, entry in guards.CATCHING.items()}
    assert catching["IFERROR"](NA, 5.0) == 5.0
    assert catching["IFERROR"](1.0, 5.0) == 1.0
    assert catching["IFERROR"](REFUSED, 5.0) == REFUSED
    assert catching["IFERROR"]([[NA, 1.0]], 5.0) == [[5.0, 1.0]]
    tests = ("ISERROR", "ISERR", "ISNA", "ISNUMBER")
    assert [catching[name](NA) for name in tests] == [True, False, True, False]
    assert [catching[name](error("Num")) for name in tests] == [True, True, False, False]
    assert [catching[name](1.0) for name in tests] == [False, False, False, True]
    assert [catching[name](REFUSED) for name in tests] == [REFUSED] * 4
    assert catching["ISNUMBER"]([[1.0, "x"]]) == [[True, False]]
