"""Values on which engine and spreadsheets part; and common formulas on common values, which are computed."""

from __future__ import annotations

from typing import Any

import pytest

from pressfuncs.batch.book import Book, Run, Sheet
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import compute
from pressfuncs.batch.engine import Formualizer
from pressfuncs.batch.engine_formulon import Formulon
from pressfuncs.batch.formulas import parse
from pressfuncs.batch.odd_values import odd_values
from pressfuncs.errors import CellError

# A register: number, name, force, date, quantity, and what people write in between.
NUMBERS = [1.0, 2.0, 3.0, 4.0, 5.0]
NAMES = ["Die 1", "Die 2", "die-3", "DIE 4", "Ä/5"]
FORCES = [1250.5, 800.0, 63.25, 400.0, 1600.0]
DATES = [45292.0, 45351.0, 45382.5, 45657.0, 45658.0]
QUANTITIES = [100.0, None, 250.0, "n/a", 75.0]
FLAGS = [True, False, True, True, False]


def book_of(text: str, columns: dict[int, list[Any]], row: int = 2, column: int = 30) -> tuple[Run, Book]:
    values = {
        place: {r: value for r, value in enumerate(rows, 1) if value is not None}
        for place, rows in columns.items()
    }
    run = Run("S", column, row, row, parse(text, row, column))
    return run, Book({"S": Sheet("S", "", values, [run])}, {}, {}, False)


def reason(text: str, *columns: list[Any]) -> str:
    """Return why a formula, as it is in row 2, is left alone when it is filled down beside some columns."""
    run, book = book_of(text, dict(enumerate(columns, 1)))
    assert run.template is not None
    lowest = min((ref.row1 for ref in run.template.refs if not ref.fixed[0]), default=0)
    run.first, run.last = max(1, 1 - lowest), max(2, *map(len, columns))
    return odd_values(run.template.tokens, run, book)


@pytest.mark.parametrize("odd", ["1,000", "12,5", "5%", "$5", "(5)", "1/2", "2024-02-29", "12:30", "31 Jan 2024"])
def test_texts_that_may_be_numbers_stop_arithmetic_and_no_more(odd: str) -> None:
    column = [1.0, 2.0, odd]
    for text in ("A2*2", "1+A2", "-A2", "A2%", "ROUND(A2,1)", "SQRT(A$3)", "YEAR(A2)", "2^A2"):
        assert reason(text, column), text
    for text in ("SUM(A1:A3)", 'A2&"x"', "LEN(A2)", 'A2="x"', "IF(A2=1,2,3)", "COUNTIF(A1:A3,1)", "B2*2", "A$1*2"):
        assert not reason(text, column, [1.0]), text


@pytest.mark.parametrize("text", ["12", " 1.5 ", "-3", "1e3", "abc", "", "n/a", "Die 12", "DC01", "M8x1.25", "-"])
def test_other_texts_do_not(text: str) -> None:
    assert not reason("A2*2", [1.0, 2.0, text])


def test_fixed_cells_alone_are_looked_at() -> None:
    column = ["5%", 2.0, 3.0]
    assert reason("A2*2", column)  # the same formula may stand in row 1 too
    assert not reason("A$2*2", column)
    assert reason("A$1*2", column)


def test_truth_values_as_text() -> None:
    assert reason("IF(A2,1,2)", ["yes", "true"])
    assert reason("NOT(A2)", [" FALSE "])
    assert not reason("IF(A2,1,2)", [True, 1.0, "yes"])
    assert not reason('IF(A2="TRUE",1,2)', ["TRUE"])


def test_look_ups_among_numbers_that_differ_in_the_last_digits_only() -> None:
    near, far = [0.3, 0.1 + 0.2], [0.3, 0.4]
    for text in ("MATCH(B2,A1:A2,0)", "VLOOKUP(B2,A1:B2,2,0)", "XLOOKUP(B2,A1:A2,B1:B2)", "RANK(B2,A1:A2)"):
        assert reason(text, near, [1.0, 2.0]), text
        assert not reason(text, far, [1.0, 2.0]), text
        assert reason(text, far, [1.0, 0.1 + 0.2]), text
    assert reason("MATCH(B2*3,A1:A2,0)", far, [0.1])
    assert not reason("MATCH(ROUND(B2*3,1),A1:A2,0)", far, [0.1])
    assert not reason("MATCH(B2*3,A1:A2,0)", [1.0, 2.0], [0.1])
    assert not reason("MATCH(B2,A1:A2,0)", ["a", "b"], ["a"])
    assert not reason('MATCH("x",A1:A2,0)', near)


def test_texts_in_order() -> None:
    assert reason("A2<B2", ["die-3"], ["die 3"])
    assert reason('A2>="ä"', ["a"])
    assert not reason("A2<B2", ["die 3"], ["Die 4"])
    assert not reason("A2<B2", ["die-3"], [1.0])
    assert not reason("A2>0", ["n/a"])
    assert not reason("A2=B2", ["die-3"], ["die 3"])


def test_errors_among_summed_values() -> None:
    errors = [CellError("#N/A"), 1.0]
    assert reason('SUMIF(A1:A2,"<>1")', errors)
    assert not reason('SUMIF(A1:A2,">1")', errors)
    assert not reason('SUMIF(A1:A2,"<>1")', [2.0, 1.0])
    assert reason('AVERAGEIFS(A1:A2,B1:B2,">0")', errors, [1.0, 2.0])
    assert not reason('COUNTIFS(A1:A2,">0")', errors)


def test_texts_looked_for_among_numbers() -> None:
    for text in ("MATCH(B2,A1:A3)", "VLOOKUP(B2,A1:A3,1)", "HLOOKUP(B2,A1:A3,1,TRUE)", "LOOKUP(B2,A1:A3)"):
        assert reason(text, [1.0, 2.0, 3.0], ["x", "2"]), text
        assert not reason(text, [1.0, 2.0, 3.0], [1.0, 2.0]), text
        assert not reason(text, ["a", "b", "c"], ["x", "b"]), text
    assert not reason("MATCH(B2,A1:A3,0)", [1.0, 2.0, "b"], ["x", "b"])


def test_holidays_that_are_not_all_dates() -> None:
    assert reason("WORKDAY(A2,5,B$1:B$2)", [45351.0], ["holiday", 45352.0])
    assert not reason("WORKDAY(A2,5,B$1:B$2)", [45351.0], [45353.0, 45352.0])


COMMON = [
    *(
        "C2*1.15",
        "C2^2",
        "C2^0.5",
        "-C2^2",
        "C2/A2",
        "(C2+A2)*2",
        "C2%",
        "C2-C3",
        "C2&B2",
        "+C2",
        "A2=C2",
        "A2<C2",
    ),
    *("SUM(C1:C5)", "SUM(C1:C5,E1:E5)", "AVERAGE(C1:C5)", "MIN(C1:C5)", "MAX(C1:C5,10)", "COUNT(E1:E5)"),
    *("COUNTA(E1:E5)", "COUNTBLANK(E1:E5)", "PRODUCT(A1:A5)", "MEDIAN(C1:C5)", "STDEV(C1:C5)", "LARGE(C1:C5,2)"),
    *("SMALL(C1:C5,A2)", "RANK(C2,C1:C5)", "QUARTILE(C1:C5,1)", "PERCENTILE(C1:C5,0.9)", "SUBTOTAL(9,C1:C5)"),
    *("ROUND(C2,0)", "ROUND(C2/3,2)", "ROUNDUP(C2,-1)", "ROUNDDOWN(C2,1)", "INT(C2)", "TRUNC(C2)", "ABS(-C2)"),
    *("MOD(A2,3)", "MOD(-7,3)", "QUOTIENT(C2,7)", "CEILING(C2,50)", "FLOOR(C2,50)", "MROUND(C2,50)"),
    *("SQRT(C2)", "EXP(A2)", "LN(C2)", "LOG10(C2)", "PI()*A2", "SIN(RADIANS(30))", "COS(A2)", "ATAN2(1,1)"),
    *("POWER(A2,3)", "IF(C2>1000,1,0)", 'IF(E2="","none",E2)', 'IF(AND(C2>1,A2<9),"ok","no")', "OR(F1:F5)"),
    *("NOT(F2)", "IF(F1,1,2)", "AND(A2>1,F1)", "IFERROR(C2/0,0)", "IFERROR(C2/A2,0)", "IFERROR(A2^B2,-1)"),
    *('IFERROR(VALUE("x"),0)', "ISNUMBER(E4)", "ISBLANK(E2)", 'IFS(C2>1000,"big",TRUE,"small")'),
    *('SWITCH(A2,1,"a",2,"b")', "CHOOSE(A2,10,20,30)", 'COUNTIF(C1:C5,">500")', 'COUNTIF(B1:B5,"die*")'),
    *(
        "COUNTIF(B1:B5,B2)",
        'SUMIF(C1:C5,">500")',
        "SUMIF(A1:A5,A2,C1:C5)",
        'SUMIFS(C1:C5,A1:A5,">1",C1:C5,"<999")',
    ),
    *('COUNTIFS(A1:A5,">1",C1:C5,">100")', 'AVERAGEIF(A1:A5,">2",C1:C5)', 'MAXIFS(C1:C5,A1:A5,"<4")'),
    *("VLOOKUP(A2,A1:C5,3,FALSE)", 'VLOOKUP("Die 2",B1:C5,2,FALSE)', "INDEX(C1:C5,MATCH(A2,A1:A5,0))"),
    *("MATCH(C3,C1:C5,0)", 'XLOOKUP("DIE 4",B1:B5,C1:C5)', "XLOOKUP(99,A1:A5,C1:C5,0)", "INDEX(A1:C5,2,3)"),
    *("VLOOKUP(2.5,A$1:C$5,3)", "MATCH(3.5,A$1:A$5)", "LOOKUP(4,A$1:A$5,C$1:C$5)", "ROWS(A1:C5)", "ROW(A7)"),
    *("LEFT(B2,3)", "RIGHT(B2,A2)", "MID(B2,5,1)", "LEN(B2)", "UPPER(B5)", "TRIM(B2)", 'FIND(" ",B2)'),
    *('SUBSTITUTE(B2," ","_")', "CONCATENATE(B2,C2)", 'TEXTJOIN("-",TRUE,B1:B5)', "REPT(B2,2)", 'EXACT(B2,"x")'),
    *("RIGHT(B2,1)*2", "--RIGHT(B2,1)", "VALUE(RIGHT(B2,1))", 'REPLACE(B2,1,3,"Tool")', 'TEXT(C2,"0.00")'),
    *('TEXT(C2,"#,##0")', 'TEXT(D2,"yyyy-mm-dd")', 'TEXT(0.25,"0%")', "YEAR(D2)", "MONTH(D2)", "DAY(D2)"),
    *("HOUR(D3)", "WEEKDAY(D2)", "WEEKDAY(D2,2)", "WEEKNUM(D2)", "DATE(2024,2,30)", "DATE(YEAR(D2),12,31)"),
    *("TIME(6,30,0)", "EDATE(D2,12)", "EOMONTH(D2,0)", "DAYS(D4,D1)", "D4-D1", "NETWORKDAYS(D1,D4)"),
    *("WORKDAY(D1,10)", 'DATEDIF(D1,D4,"m")', "SUMPRODUCT(A1:A5,C1:C5)", "SUMPRODUCT((A1:A5>2)*C1:C5)"),
    *("SLOPE(C1:C5,A1:A5)", "FORECAST(6,C1:C5,A1:A5)", "PMT(0.05/12,60,10000)", "NPV(0.1,C1:C5)"),
]


@pytest.mark.parametrize("text", COMMON)
def test_common_formulas_on_common_values_are_computed_and_right(text: str) -> None:
    columns = dict(enumerate((NUMBERS, NAMES, FORCES, DATES, QUANTITIES, FLAGS), 1))
    found = []
    for engine in (Formualizer, Formulon):
        _, book = book_of(text, columns)
        found.append(compute(book, engine, everything=True).values.get(("S", 2, 30)))
    assert found[0] is not None
    assert equal(found[0], found[1])
