"""Ordinary formulas by columns: the same values as from the engine, whatever the cells hold."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pressfuncs.batch.book import Book, Run, Sheet
from pressfuncs.batch.columnwise import column_formula
from pressfuncs.batch.comparison import equal
from pressfuncs.batch.compute import Computed, compute
from pressfuncs.batch.engine import Engine, Formualizer
from pressfuncs.batch.formulas import parse
from pressfuncs.errors import CellError

ROWS = 12
PLAIN = [
    "A1*B1",
    "-A1^2",
    "A1/B1",
    "A1-B1",
    "A1+B1-C1",
    "(A1-B1)*1000",
    "A1*10%",
    "--(A1>B1)",
    "A1=B1",
    "A1<>0",
    'IF(A1="","",B1)',
    'IF(A1>0.8,"look again","ok")',
    'IF(B1>0,A1/B1,"none")',
    "IF(A1>B1,A1)",
    "IF(A1,IF(B1>2,1,C1),A1/B1)",
    "ROUND(A1,1)",
    "ROUND(A1*B1,-2)",
    "ROUNDUP(A1/3,2)",
    "ROUNDDOWN(A1,0)",
    "INT(A1)",
    "ABS(A1)*SQRT(B1)",
    "MAX(A1:C1)",
    "SUM(A1:C1,A1,5)",
    "MIN(A1,B1,0.5)/AVERAGE(A1:C1)",
    "PRODUCT(A1,B1)",
    "AND(A1>0,NOT(B1>C1),OR(A1<1,B1))",
    "PI()*A1^0.5",
    "$A$1+B1",
    "Press!A1*B1",
    "2*3+A1",
    "A1",
    "A1^B1",
]
"""All of these are computed by columns."""
LEFT = [
    "A1&B1",
    "LEN(A1)",
    "SUM(A1:A3)",
    "A1:B1*2",
    "INDIRECT(A1)",
    "IF(A1,,2)",
    "A1>B1>C1",
    "ROUND(A1,B1)",
    "ROW()",
]
LEFT += ["Nowhere!A1", "TODAY()+A1", "rate*A1", "1+1", "SUM(A1:B2)", 'IF(A1="a",1,2)&B1', "{1,2}*A1"]
HARMLESS = [float(number) for number in (1, 2, 3.5, 12.25, 100, 0.3, 7)]
ODD: list[Any] = [None, "", "abc", "12", True, False, CellError("#N/A"), CellError("#DIV/0!")]
DELICATE = [
    0.0,
    0.1 + 0.2,
    0.3,
    2.5,
    -2.5,
    1.005,
    0.125,
    1e-320,
    1e300,
    -1e300,
    1e16,
    999999999999999.0,
    -3.5,
    1e-9,
]


def book_of(columns: list[list[Any]], formulas: list[str]) -> Book:
    """Return a book of inputs in A to C and on another sheet, and formulas filled down from D on."""
    dies, press = Sheet("Dies", ""), Sheet("Press", "")
    for number, values in enumerate(columns, 1):
        dies.values[number] = {row: value for row, value in enumerate(values, 1) if value is not None}
        press.values[number] = dict(dies.values[number])
    for column, text in enumerate(formulas, 4):
        dies.runs.append(Run("Dies", column, 1, ROWS, parse(text, 1, column)))
    return Book({"Dies": dies, "Press": press}, {}, {}, False)


def computed(book: Book, by_columns: bool) -> Computed:
    return compute(book, Formualizer, everything=True, ordinary_by_columns=by_columns)


def differing(book: Book) -> dict[Any, tuple[Any, Any]]:
    by_columns, by_engine = computed(book, True), computed(book, False)
    assert by_columns.values.keys() == by_engine.values.keys()
    assert by_columns.frozen == by_engine.frozen
    pairs = {cell: (value, by_engine.values[cell]) for cell, value in by_columns.values.items()}
    return {cell: pair for cell, pair in pairs.items() if not equal(*pair)}


columns_of_cells = st.lists(
    st.lists(
        st.one_of(
            st.sampled_from(HARMLESS), st.sampled_from(ODD), st.sampled_from(DELICATE), st.floats(-1e6, 1e6)
        ),
        min_size=ROWS,
        max_size=ROWS,
    ),
    min_size=3,
    max_size=3,
)


@settings(max_examples=60, deadline=None)
@given(columns_of_cells, st.lists(st.sampled_from(PLAIN), min_size=4, max_size=8))
def test_columns_give_what_the_engine_gives_cell_by_cell(columns: list[list[Any]], formulas: list[str]) -> None:
    assert differing(book_of(columns, formulas)) == {}


atoms = st.sampled_from(["A1", "B1", "C1", "$B$2", "2", "0.1", "3", "Press!B1"])
numbers = st.recursive(
    atoms,
    lambda inner: st.one_of(
        st.builds("({}{}{})".format, inner, st.sampled_from("+-*/"), inner),
        st.builds("{}({},{})".format, st.sampled_from(["MAX", "MIN", "SUM", "PRODUCT"]), inner, inner),
        st.builds(
            "{}({},{})".format, st.sampled_from(["ROUND", "ROUNDUP", "ROUNDDOWN"]), inner, st.integers(-2, 4)
        ),
        st.builds("{}({})".format, st.sampled_from(["ABS", "INT", "-", "SQRT"]), inner),
        st.builds(
            "IF({}{}{},{},{})".format,
            inner,
            st.sampled_from(["<", ">", "=", "<>", "<=", ">="]),
            inner,
            inner,
            inner,
        ),
        st.builds("IF(AND({},{}>1),{},{})".format, inner, inner, inner, inner),
    ),
    max_leaves=8,
)


@settings(max_examples=150, deadline=None)
@given(columns_of_cells, numbers)
def test_any_plain_formula_gives_what_the_engine_gives(columns: list[list[Any]], formula: str) -> None:
    assert differing(book_of(columns, [formula])) == {}


@pytest.mark.parametrize("formula", PLAIN)
def test_plain_formulas_of_numbers_need_no_engine(formula: str) -> None:
    found = column_formula(parse(formula, 1, 4), ("Dies", "Press"))
    assert found is not None
    columns = [[(7 + row) / 4 + place / 8 + 0.01 for row in range(5)] for place in range(len(found.refs))]
    results = found.evaluate(columns, [True] * len(columns), 5, no_engine)
    assert len(results) == 5
    assert all(type(result) in (float, bool, str) for result in results)


def no_engine() -> Engine:
    raise AssertionError("the engine was asked")


@pytest.mark.parametrize("formula", LEFT)
def test_other_formulas_are_left_to_the_engine(formula: str) -> None:
    assert column_formula(parse(formula, 1, 4), ("Dies", "Press")) is None


def test_only_rows_in_doubt_go_to_the_engine() -> None:
    asked: list[Any] = []

    class Watched(Formualizer):
        def set_values(self, sheet: str, row: int, column: int, values: list[Any]) -> None:
            asked.append((column, values))
            super().set_values(sheet, row, column, values)

    found = column_formula(parse('IF(A1="","",ROUND(B1,1))', 1, 4), ("Dies",))
    assert found is not None
    lengths = [1.0, None, "", 4.0, CellError("#N/A"), 6.0]
    others = [1.24, 1.24, 1.24, 0.25, 1.24, 1.26]
    assert found.evaluate([lengths, others], [True, True], 6, Watched) == [
        1.2,
        "",
        "",
        0.3,
        CellError("#N/A"),
        1.3,
    ]
    assert asked == [(1, [None, "", 4.0, CellError("#N/A")]), (2, [1.24, 1.24, 0.25, 1.24])]


def test_one_value_for_all_rows_is_taken_as_such() -> None:
    found = column_formula(parse("$A$1*B1", 1, 4), ())
    assert found is not None
    assert found.evaluate([2.0, [1.0, 3.0]], [False, True], 2, no_engine) == [2.0, 6.0]
    assert found.evaluate(["2", [1.0, None]], [False, True], 2, Formualizer) == [2.0, 0.0]


def test_a_running_total_and_a_circle_are_left_to_the_engine() -> None:
    columns = [[float(row) for row in range(1, ROWS + 1)]] * 3
    book = book_of(columns, ["A1*2", "D1+1"])
    book.sheets["Dies"].runs.append(Run("Dies", 6, 2, ROWS, parse("F1+E2", 2, 6)))
    book.sheets["Dies"].values[6] = {1: 0.0}
    assert differing(book) == {}
    assert computed(book, True).values["Dies", ROWS, 6] == sum(2 * row + 1 for row in range(2, ROWS + 1))
    book.sheets["Dies"].runs.append(Run("Dies", 7, 1, ROWS, parse("H1+1", 1, 7)))
    book.sheets["Dies"].runs.append(Run("Dies", 8, 1, ROWS, parse("G1+1", 1, 8)))
    frozen = {cell for cell, _ in computed(book, True).frozen}
    assert frozen == {("Dies", row, column) for row in range(1, ROWS + 1) for column in (7, 8)}


def test_stored_values_that_differ_send_the_column_and_what_hangs_on_it_to_the_engine() -> None:
    columns = [[float(row) for row in range(1, ROWS + 1)]] * 3
    book = book_of(columns, ["A1*2", "D1+1", "A1+5", "PF_STRIPPING_FORCE(E1,0.1)"])
    stored = book.sheets["Dies"].values
    stored[4] = {row: 2.0 * row for row in range(1, ROWS + 1)} | {5: 99.0}
    stored[5] = {row: 2.0 * row + 1 for row in range(1, ROWS + 1)} | {5: 100.0}
    stored[6] = {row: row + 5.0 for row in range(1, ROWS + 1)}
    found = compute(book, Formualizer, ordinary_by_columns=True)
    assert [(d.cell, d.stored, d.computed) for d in found.disagreements] == [(("Dies", 5, 4), 99.0, 10.0)]
    assert found.compared == 3 * ROWS - 1
    assert found.values["Dies", 5, 7] == pytest.approx(10.0)
    assert found.resting == [("Dies", 5, 7)]
