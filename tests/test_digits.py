"""Fifteen digits: joined, compared and subtracted numbers as spreadsheets have them."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pressfuncs.batch.digits import adapt
from pressfuncs.batch.engine import Formualizer
from pressfuncs.batch.formulas import parse
from pressfuncs.batch.standins import ceiling, ceiling_math, difference, floor, rounded, shown
from pressfuncs.errors import CellError


@pytest.mark.parametrize(
    ("number", "text"),
    [
        (0.1 + 0.2, "0.3"),
        (1 / 3, "0.333333333333333"),
        (-1 / 3, "-0.333333333333333"),
        (1 / 3000, "0.000333333333333333"),
        (1 / 30000, "3.33333333333333E-05"),
        (0.00001, "0.00001"),
        (1e-9, "0.000000001"),
        (1 / 3e9, "3.33333333333333E-10"),
        (1e15, "1000000000000000"),
        (123456789012345678.0, "123456789012346000"),
        (1e19, "10000000000000000000"),
        (1e20, "1E+20"),
        (1.5e300, "1.5E+300"),
        (5.0, "5"),
        (-0.0, "0"),
        (100000 * 1.1, "110000"),
    ],
)
def test_numbers_become_the_text_that_spreadsheets_make(number: float, text: str) -> None:
    assert shown(number) == text


@given(st.floats(allow_nan=False, allow_infinity=False, min_value=-1e200, max_value=1e200))
def test_shown_and_rounded_are_the_same_number(number: float) -> None:
    assert float(shown(number)) == rounded(number)


@pytest.mark.parametrize(
    ("number", "step", "up", "down"),
    [
        (0.1 * 3 * 10, 1.0, 3, 3),
        (2.1 * 100, 1.0, 210, 210),
        (7.0, 2.5, 7.5, 5),
        (-2.5, 2.0, -2, -4),
        (-2.5, -2.0, -4, -2),
        (2.5, -2.0, "Num", "Num"),
        (5.0, 0.0, 0, "Div"),
        (0.0, 0.0, 0, 0),
        ("3.2", 1.0, 4, 3),
        ("x", 1.0, "Value", "Value"),
        (None, 1.0, 0, 0),
        (True, 2.0, 2, 0),
        ({"kind": "Na"}, 1.0, "Na", "Na"),
    ],
)
def test_ceiling_and_floor_never_step_for_the_last_bits_alone(number: Any, step: Any, up: Any, down: Any) -> None:
    for found, want in ((ceiling(number, step), up), (floor(number, step), down)):
        assert (found["kind"] if isinstance(found, dict) else pytest.approx(found)) == want


def test_ceiling_math_goes_up_or_away_from_nought() -> None:
    assert [ceiling_math(0.1 * 3 * 10), ceiling_math(-2.5, 2.0), ceiling_math(-2.5, 2.0, 1.0)] == [3, -2, -4]
    assert ceiling_math(2.5, 0.0) == 0
    assert ceiling_math("x")["kind"] == "Value"


def test_only_what_is_left_of_equal_sides_is_cleared() -> None:
    assert difference(0.1 + 0.2 - 0.3, 0.1 + 0.2, 0.3) == 0
    assert difference(1e-14, 1.00000000000001, 1.0) == 1e-14
    assert difference(-0.3, 0.0, 0.3) == -0.3
    assert difference({"kind": "Na"}, 1.0, 1.0) == {"kind": "Na"}


@pytest.mark.parametrize(
    ("text", "adapted"),
    [
        ("A1+B1*2", "PRESSFUNCS.DIFFERENCE(A1+B1*2,A1,B1*2)"),
        ("A1*B1", "A1*B1"),
        ('A1=""', 'A1=""'),
        ("A1>0", "A1>0"),
        ("A1<0.5", "PRESSFUNCS.ROUNDED(A1)<0.5"),
        ("A1:A3=B1", "PRESSFUNCS.ROUNDED(A1:A3)=PRESSFUNCS.ROUNDED(B1)"),
        ('"a"&A1&B1+1', '"a"&PRESSFUNCS.SHOWN(A1)&PRESSFUNCS.SHOWN(B1+1)'),
        ("LEN(A1)", "LEN(PRESSFUNCS.SHOWN(A1))"),
        ("LEFT(A1,B1)", "LEFT(PRESSFUNCS.SHOWN(A1),PRESSFUNCS.COUNTED(B1))"),
        ("A1^2*B1^0.5", "A1^2*B1^0.5"),
        ("2*-A1^B1%", "2*PRESSFUNCS.POWER(-A1,B1%)"),
        ("A1^B1^C1", "PRESSFUNCS.POWER(PRESSFUNCS.POWER(A1,B1),C1)"),
        ("A1^-1.5", "A1^-1.5"),
        ("A1^0.333", "PRESSFUNCS.POWER(A1,0.333)"),
        ("A1^0", "PRESSFUNCS.POWER(A1,0)"),
        ("--LEFT(A1,2)", "--PRESSFUNCS.NUMBER(LEFT(PRESSFUNCS.SHOWN(A1),2))"),
        ("LEFT(A1,2)", "LEFT(PRESSFUNCS.SHOWN(A1),2)"),
        ('("1"&A1)*2', 'PRESSFUNCS.NUMBER(("1"&PRESSFUNCS.SHOWN(A1)))*2'),
        ('"5%"*A1', 'PRESSFUNCS.NUMBER("5%")*A1'),
        ("DATE(A1,2,3)", "PRESSFUNCS.SINCE1900(DATE(A1,2,3))"),
        ("IFERROR(A1/B1,0)", "IFERROR(A1/B1,0)"),
        ("IFERROR(A1^B1,0)", "PRESSFUNCS.IFERROR(PRESSFUNCS.POWER(A1,B1),0)"),
        ("IF(ISERR(SIN(A1)),1,2)", "IF(PRESSFUNCS.ISERR(SIN(PRESSFUNCS.ANGLE(A1))),1,2)"),
        ('TEXTJOIN("-",TRUE,A1)', 'TEXTJOIN(PRESSFUNCS.SHOWN("-"),TRUE,PRESSFUNCS.SHOWN(A1))'),
        ("CEILING(A1,5)", "PRESSFUNCS.CEILING(A1,5)"),
        (
            "IF(A1=B1,(A1=C1)*2,)",
            "IF(PRESSFUNCS.ROUNDED(A1)=PRESSFUNCS.ROUNDED(B1),(PRESSFUNCS.ROUNDED(A1)=PRESSFUNCS.ROUNDED(C1))*2,)",
        ),
        ("SUM(A1:A3)-1", "SUM(A1:A3)-1"),
    ],
)
def test_formulas_are_adapted_where_digits_matter(text: str, adapted: str) -> None:
    assert adapt(parse(text, 9, 9)).bind(9)(9) == adapted


def computed(formula: str) -> Any:
    """Compute a formula that stands beside 0.1, 0.2, 0.3 (A1:A3), a blank, a text, TRUE and an error (A4:A7)."""
    engine = Formualizer()
    engine.add_sheet("S")
    engine.set_values("S", 1, 1, [0.1, 0.2, 0.3, None, "abc", True, CellError("#N/A")])
    template = engine.adapt(parse(formula, 1, 3))
    engine.set_formulas("S", 1, 3, [template.bind(3)(1)])
    engine.evaluate()
    return engine.values("S", 3, 1, 1)[0]


@pytest.mark.parametrize(
    ("formula", "value"),
    [
        ("A1+A2=A3", True),
        ("A1+A2<>A3", False),
        ("A1+A2>=A3", True),
        ("A1+A2-A3", 0.0),
        ("(A1+A2-A3)", 5.551115123125783e-17),
        ('A1+A2&""', "0.3"),
        ("A4=0", True),
        ('A4=""', True),
        ("A4=A1", False),
        ("A5=A1", False),
        ("A5>A1", True),
        ("A6>A5", True),
        ("A6=TRUE", True),
        ("A7=A1", CellError("#N/A")),
        ('A7&"x"', CellError("#N/A")),
        ("A4&A6&A5", "TRUEabc"),
        ("SUM((A1:A3=A1+A2)*1)", 1.0),
        ("CEILING(A1*3*10,1)", 3.0),
        ("LEN(A4)", 0.0),
        ('UPPER("ä"&A1)', "Ä0.1"),
    ],
)
def test_the_engine_computes_adapted_formulas_as_spreadsheets_do(formula: str, value: Any) -> None:
    assert computed(formula) == value
