"""Ranges: broadcasting and orientation, one bad element in its place, a column call equal to its cells."""

from __future__ import annotations

import datetime
import json
import math
import subprocess
import sys
from pathlib import Path
from typing import Any

import examples
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pressfuncs.edge import Problem, evaluate, evaluate_many
from pressfuncs.edge.call import call
from pressfuncs.edge.ranges import evaluate_one
from pressfuncs.errors import CellError, MissingValue, OutOfRange, WrongType
from pressfuncs.registry import FUNCTIONS, FunctionSpec

SHEARING = FUNCTIONS["shearing_force"]
BAD: list[Any] = [
    *(None, "", "abc", "12,5", True, math.nan, math.inf, CellError("#N/A"), datetime.date(2024, 3, 2)),
    *(-1.0, 0.0, "5 furlong", 10**400),
]
"""Cell values that most arguments refuse."""


def force(cut_length: float, thickness: float, shear_strength: float = 310.0) -> Any:
    return pytest.approx(cut_length * thickness * shear_strength / 1000)


# Shape


def test_column_of_cells_gives_a_column():
    assert evaluate(SHEARING, ([[100.0], [200.0], [300.0]], 2.0, 310.0)) == [
        [force(100, 2)],
        [force(200, 2)],
        [force(300, 2)],
    ]


@pytest.mark.parametrize("row", [[[100.0, 200.0]], [100.0, 200.0], (100.0, 200.0), np.array([100.0, 200.0])])
def test_row_of_cells_gives_a_row(row):
    assert evaluate(SHEARING, (row, 2.0, 310.0)) == [[force(100, 2), force(200, 2)]]


def test_row_and_column_give_their_table():
    assert evaluate(SHEARING, ([[100.0], [200.0], [300.0]], [[1.0, 2.0]], 310.0)) == [
        [force(100, 1), force(100, 2)],
        [force(200, 1), force(200, 2)],
        [force(300, 1), force(300, 2)],
    ]


@pytest.mark.parametrize("size", [1, 3, 40])
def test_block_with_row_column_and_cell(size):
    block = [[float(10 * r + c + 1) for c in range(size)] for r in range(size)]
    row = [[1.0 + c for c in range(size)]]
    column = [[100.0 + r] for r in range(size)]
    result = evaluate(SHEARING, (block, row, column))
    expected = [[force(block[r][c], row[0][c], column[r][0]) for c in range(size)] for r in range(size)]
    assert result == (expected if size > 1 else expected[0][0])


def test_range_of_one_cell_gives_one_value():
    assert evaluate(SHEARING, ([[100.0]], [2.0], 310.0)) == force(100, 2)


@pytest.mark.parametrize("other", [[[1.0], [2.0]], [[1.0, 2.0]] * 3, [[1.0, 2.0], [3.0, 4.0]]])
def test_ranges_that_do_not_match_are_refused(other):
    problems: list[Problem] = []
    assert evaluate(SHEARING, ([[100.0, 200.0, 300.0]] * 3, other, 310.0), problems) == CellError("#VALUE!")
    assert isinstance(problems[0].error, WrongType)
    assert str(problems[0].error).startswith("the ranges do not match: 3 x 3 and ")


def test_units_argument_may_be_a_range():
    result = evaluate(SHEARING, (100.0, 2.0, 310.0, [["metric"], ["inch"], [""], ["yard"]]))
    inch = pytest.approx(100.0 * 2.0 * 310.0 / 2000)
    assert result == [[force(100, 2)], [inch], [force(100, 2)], [CellError("#VALUE!")]]
    long = evaluate(SHEARING, ([[100.0]] * 40, 2.0, 310.0, [["metric"], ["inch"], [None], ["yard"]] * 10))
    assert long == result * 10


def test_too_many_arguments_fail_in_every_cell():
    problems: list[Problem] = []
    result = evaluate(SHEARING, ([[100.0]] * 20, 2.0, 310.0, "metric", 5.0), problems)
    assert result == [[CellError("#VALUE!")]] * 20
    assert len(problems) == 20


def test_series_stay_whole_beside_a_column():
    spec = FUNCTIONS["staggered_peak_force"]
    forces, heights = [[80.0], [50.0], [40.0]], [[3.0], [1.5], [0.0]]
    result = evaluate(spec, (forces, heights, [[1.6], [0.5]]))
    assert result == [[evaluate(spec, (forces, heights, 1.6))], [evaluate(spec, (forces, heights, 0.5))]]


# Bad elements


@pytest.mark.parametrize("length", [3, 30])
@pytest.mark.parametrize("bad", BAD, ids=repr)
def test_one_bad_element_spoils_one_element(bad, length):
    column = [[float(i + 1)] for i in range(length)]
    column[2] = [bad]
    problems: list[Problem] = []
    result = evaluate(SHEARING, (column, 2.0, 310.0), problems)
    assert [row[0] for i, row in enumerate(result) if i != 2] == [force(i + 1, 2) for i in range(length) if i != 2]
    assert isinstance(result[2][0], CellError)
    assert [problem.index for problem in problems] == ([] if isinstance(bad, CellError) else [2])


@pytest.mark.parametrize("length", [4, 40])
def test_problems_name_each_bad_element_in_order(length):
    column: list[list[Any]] = [[float(i + 1)] for i in range(length)]
    thicknesses: list[list[Any]] = [[2.0] for _ in range(length)]
    column[3], column[0], thicknesses[1] = [None], [-5.0], [0.0]
    column[2] = [CellError("#REF!")]
    problems: list[Problem] = []
    result = evaluate(SHEARING, (column, thicknesses, 310.0), problems)
    assert [row[0] for row in result[:4]] == [
        CellError("#NUM!"),
        CellError("#NUM!"),
        CellError("#REF!"),
        CellError("#VALUE!"),
    ]
    assert [(problem.index, type(problem.error)) for problem in problems] == [
        (0, OutOfRange),
        (1, OutOfRange),
        (3, MissingValue),
    ]
    assert problems[0].error.sentence("metric") == "cut_length must be greater than 0 mm, got -5 mm"
    assert {problem.error.function for problem in problems} == {"shearing_force"}


@pytest.mark.parametrize("bad", [None, "abc", 0.0, CellError("#N/A"), True], ids=repr)
def test_bad_shared_argument_spoils_every_element(bad):
    problems: list[Problem] = []
    result = evaluate(SHEARING, ([[float(i + 1)] for i in range(20)], bad, 310.0), problems)
    (cell,) = {row[0] for row in result}
    assert isinstance(cell, CellError)
    assert [problem.index for problem in problems] == ([] if isinstance(bad, CellError) else list(range(20)))


def test_true_and_one_are_not_the_same_text():
    long = [[1.0], [True]] * 10
    for row in evaluate(SHEARING, (100.0, 2.0, 310.0, long)):
        assert row == [CellError("#VALUE!")]
    problems: list[Problem] = []
    evaluate(SHEARING, (100.0, 2.0, 310.0, long), problems)
    assert str(problems[0].error) != str(problems[1].error)


def test_element_that_is_too_large_is_refused_and_no_other():
    column = [[1e300], *([100.0] for _ in range(20))]
    result = evaluate(SHEARING, (column, 1e300, 310.0))
    assert result == [[CellError("#NUM!")]] + [[force(100, 1e300)]] * 20


def test_results_are_plain_python_values():
    for (cell,) in evaluate(SHEARING, (np.arange(1.0, 21.0).reshape(-1, 1), 2.0, 310.0)):
        assert type(cell) is float


# A column is the same as its cells


def columns_near(spec: FunctionSpec, length: int) -> st.SearchStrategy[list[Any]]:
    """Return one list of cell values for each argument, drawn around the example, bad ones mixed in."""
    drawn = []
    for argument, cell in zip(spec.arguments, examples.cells(spec), strict=True):
        if argument.series:
            drawn.append(st.just(cell))
            continue
        if type(cell) is float:
            near = st.floats(0.4, 2.5).map(lambda share, cell=cell: cell * share)
            whole = st.integers(0, 5).map(float)
            good = st.one_of(st.just(cell), near, st.just(int(cell)), whole)
            if argument.kind.has_unit:
                good = st.one_of(good, near.map(lambda n, unit=argument.kind.metric: f"{n:.6f} {unit}"))
        elif argument.choices:
            good = st.sampled_from([*argument.choices, argument.choices[0].upper(), None])
        else:
            good = st.just(cell)
        one = st.integers(0, 9).flatmap(lambda n, good=good: st.sampled_from(BAD) if n == 0 else good)
        drawn.append(st.lists(one, min_size=length, max_size=length))
    if spec.has_units:
        systems = st.sampled_from(["metric", "inch", None, "INCH"])
        drawn.append(st.lists(systems, min_size=length, max_size=length))
    return st.tuples(*drawn).map(list)


def assert_equal(column: list[Any], cells: list[Any]) -> None:
    for found, expected in zip(column, cells, strict=True):
        if type(expected) is float:
            assert type(found) is float
            assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)
        else:
            assert found == expected


@pytest.mark.parametrize("spec", [s for s in examples.COMPUTING if s.arguments], ids=examples.name_of)
@settings(max_examples=20)
@given(data=st.data())
def test_column_call_equals_its_calls_cell_by_cell(spec, data):
    length = data.draw(st.integers(8, 14))
    columns = data.draw(columns_near(spec, length))
    each = [not (i < len(spec.arguments) and spec.arguments[i].series) for i in range(len(columns))]
    problems: list[Problem] = []
    together = evaluate_many(spec, columns, each, length, problems)
    single: list[Problem] = []
    one_by_one = [
        evaluate_one(spec, [c[i] if e else c for c, e in zip(columns, each, strict=True)], i, single)
        for i in range(length)
    ]
    assert_equal(together, one_by_one)
    assert [(p.index, str(p.error), p.error.function) for p in problems] == [
        (p.index, str(p.error), p.error.function) for p in single
    ]


@pytest.mark.parametrize(
    "spec", [s for s in examples.COMPUTING if s.arguments and s.columns is None], ids=examples.name_of
)
def test_example_repeated_in_a_column_gives_the_example_in_each_row(spec):
    cells = examples.cells(spec)
    expected = call(spec, cells)
    columns = [cell if a.whole else [[cell]] * 12 for a, cell in zip(spec.arguments, cells, strict=True)]
    if all(argument.series for argument in spec.arguments):
        assert evaluate(spec, columns) == expected
        return
    assert_equal([row[0] for row in evaluate(spec, columns)], [expected] * 12)


# Without numpy


WITHOUT_NUMPY = """
import json, sys
sys.modules["numpy"] = None
sys.path.insert(0, sys.argv[1])
import column_calls
print(json.dumps(column_calls.results()))
assert sys.modules["numpy"] is None and "pint" not in sys.modules
"""


def test_results_without_numpy_are_the_same():
    import column_calls

    done = subprocess.run(
        [sys.executable, "-c", WITHOUT_NUMPY, str(Path(__file__).parent)],
        capture_output=True,
        text=True,
        check=True,
    )
    without = json.loads(done.stdout)
    with_numpy = json.loads(json.dumps(column_calls.results()))
    assert list(without) == list(with_numpy) == [spec.name for spec in examples.COMPUTING if spec.arguments]
    for name, (cells, problems) in without.items():
        assert_equal(with_numpy[name][0], cells)
        assert with_numpy[name][1] == problems
    assert sum(type(cell) is float for cells, _ in without.values() for cell in cells) > 5 * len(without)
