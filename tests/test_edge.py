"""One worksheet call: what each kind of cell value means, what is refused and how, what is passed on."""

from __future__ import annotations

import datetime
import math
from decimal import Decimal
from typing import Annotated, Any, Literal

import examples
import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pressfuncs.edge import Problem, evaluate, explain, explanation
from pressfuncs.edge.call import call
from pressfuncs.errors import CellError, MissingValue, OutOfRange, PressError, WrongChoice, WrongType, WrongUnit
from pressfuncs.limits import positive
from pressfuncs.quantities import (
    COUNT,
    FORCE,
    LENGTH,
    Columns,
    Count,
    Force,
    Forces,
    Length,
    Lengths,
    Number,
    Ratio,
    Text,
    Wording,
)
from pressfuncs.registry import FUNCTIONS, FunctionSpec

UNITS = pint.UnitRegistry()
SHEARING = FUNCTIONS["shearing_force"]
GOOD = (471.239, 3.2, 310.0)
NEWTONS = 471.239 * 3.2 * 310.0


def made(plain: Any) -> FunctionSpec:
    """Return the spec of a function made for a test; it is not entered in the register."""
    return FunctionSpec(plain, "Test", "derived", "", None)


@made
def share_of(force: Force, share: Ratio = 0.5, way: Literal["up", "Down"] = "up", count: Count = 2.0) -> Force:
    positive(force=force)
    return force * share * count * (1 if way == "up" else -1)


@made
def moment_sum(forces: Forces, positions: Lengths, shift: Length = 0.0) -> Number:
    return sum(force * (position + shift) for force, position in zip(forces, positions, strict=True))


@made
def total(forces: Forces, more: Forces = ()) -> Force:
    return sum(forces) + sum(more)


@made
def verdict(margin: Length, label: Text = "die") -> Text:
    return Wording("too tall by {margin}", margin=(margin, LENGTH)) if margin > 0 else label


Rows = Annotated[list[tuple[float, float, str]], Columns(("height", "force", "what"), (LENGTH, FORCE, COUNT))]


@made
def rows(height: Length, force: Force) -> Rows:
    return [(height, force, "first"), (height * 2, force / 2, "second")]


@made
def quotient(over: Number, under: Number) -> Number:
    return over / under


@made
def power(base: Number, exponent: Number) -> Number:
    return base**exponent


@made
def answer() -> Count:
    return 42.0


def refusal(spec: FunctionSpec, *arguments: object) -> PressError:
    """Return the one error behind an error value."""
    problems: list[Problem] = []
    result = evaluate(spec, arguments, problems)
    assert isinstance(result, CellError), result
    (problem,) = problems
    assert problem.index == 0
    assert problem.error.cell == result.code
    return problem.error


# Units


def test_bare_numbers_are_metric_and_so_is_the_result():
    assert evaluate(SHEARING, GOOD) == pytest.approx(NEWTONS / 1000)


def test_bare_numbers_are_inch_when_asked_for():
    arguments = (18.5527, 0.125984, 44961.7, "inch")
    expected = 18.5527 * 0.125984 * 44961.7 / 2000
    assert evaluate(SHEARING, arguments) == pytest.approx(expected, rel=1e-9)


@pytest.mark.parametrize("system", ["metric", "Metric", " METRIC ", None, "", "  ", ["metric"]])
def test_metric_is_the_default_and_is_read_in_any_letter_case(system):
    assert evaluate(SHEARING, (*GOOD, system)) == evaluate(SHEARING, GOOD)


@pytest.mark.parametrize("system", ["imperial", 1.0, True, 5])
def test_other_unit_systems_are_refused(system):
    error = refusal(SHEARING, *GOOD, system)
    assert isinstance(error, WrongChoice)
    assert "choose from metric, inch" in str(error)


@pytest.mark.parametrize("system", ["metric", "inch"])
def test_text_quantities_mean_the_same_in_every_unit_system(system):
    factor = SHEARING.result.factor(system)
    arguments = ("0.471239 m", "1/8 in", "310 MPa", system)
    assert evaluate(SHEARING, arguments) == pytest.approx(471.239 * 3.175 * 310 / factor)


def test_quantities_are_taken_as_cell_values():
    arguments = (UNITS.Quantity(47.1239, "cm"), UNITS.Quantity(3.2, "mm"), "310 MPa")
    assert evaluate(SHEARING, arguments) == pytest.approx(NEWTONS / 1000)


def test_percent_is_taken_for_a_ratio():
    assert evaluate(share_of, ("2 kN", "10 %", None, 1)) == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("5 kg", 3, 310), "cut_length: kg is a mass, a length is wanted (mm, in, ...)"),
        ((5, "3 mil", 310), 'thickness: "mil" is not clear for a length: write thou or in'),
        ((5, 3, "310 furlong"), 'unit "furlong" is not known, a stress or pressure is wanted (MPa, psi, ...)'),
        ((UNITS.Quantity(5, "kg"), 3, 310), "cut_length is in kilogram, a length is wanted (mm, in, ...)"),
    ],
)
def test_wrong_unit_is_refused_with_the_wanted_ones(arguments, sentence):
    error = refusal(SHEARING, *arguments)
    assert isinstance(error, WrongUnit)
    assert sentence in str(error)


@pytest.mark.parametrize("value", ["5 mm", UNITS.Quantity(5, "mm")])
def test_unit_on_a_plain_number_is_refused(value):
    error = refusal(share_of, "2 kN", 0.5, "up", value)
    assert isinstance(error, WrongUnit)
    assert "plain number" in str(error)


def test_dimensionless_quantity_is_a_plain_number():
    assert evaluate(share_of, ("2 kN", 0.5, "up", UNITS.Quantity(3, ""))) == 3.0


@pytest.mark.parametrize("force", ["50 ton", "50 t", "50 tons"])
def test_ton_of_force_is_refused_with_three_ways_out(force):
    assert all(word in str(refusal(share_of, force)) for word in ("tonf_us", "tonf_metric", "kN"))


# Blanks and omitted arguments


@pytest.mark.parametrize("blank", [None, "", "  ", [None], [[None]], [[""]]])
def test_blank_required_argument_is_missing(blank):
    error = refusal(SHEARING, 471.239, blank, 310.0)
    assert isinstance(error, MissingValue)
    assert str(error) == "thickness is blank"
    assert (error.function, error.argument) == ("shearing_force", "thickness")


@pytest.mark.parametrize("given_count", range(3))
def test_omitted_required_argument_is_missing(given_count):
    assert isinstance(refusal(SHEARING, *GOOD[:given_count]), MissingValue)


@pytest.mark.parametrize("blanks", [(), (None,), ("", " ", None), (None, None, None, None)])
def test_blank_or_omitted_optional_argument_is_its_default(blanks):
    assert evaluate(share_of, ("2 kN", *blanks)) == 2.0


def test_function_without_arguments_is_called_without_any():
    assert evaluate(answer, ()) == 42.0
    assert isinstance(refusal(answer, "metric"), WrongType)


@pytest.mark.parametrize("ragged", [[[1.0], [2.0, 3.0]], [[], [1.0]]])
def test_range_that_is_no_rectangle_is_refused(ragged):
    assert isinstance(refusal(SHEARING, ragged, 3.2, 310.0), WrongType)


def test_too_many_arguments_are_refused():
    error = refusal(SHEARING, *GOOD, "metric", 1.0)
    assert str(error) == "PF_SHEARING_FORCE takes at most 4 arguments, got 5"


@pytest.mark.parametrize("spec", [s for s in examples.COMPUTING if s.arguments], ids=examples.name_of)
def test_blank_in_the_place_of_each_argument_is_its_default_or_missing(spec):
    cells = examples.cells(spec)
    for place, argument in enumerate(spec.arguments):
        blanked = [*cells[:place], None, *cells[place + 1 :]]
        result = evaluate(spec, blanked)
        if argument.required:
            error = refusal(spec, *blanked)
            assert isinstance(error, MissingValue)
            assert error.argument == argument.name
        else:
            default = argument.default
            shown = default / argument.kind.factor("metric") if isinstance(default, (int, float)) else default
            expected = evaluate(spec, [*cells[:place], shown, *cells[place + 1 :]])
            assert result == expected or result == pytest.approx(expected)


# Errors


@pytest.mark.parametrize("code", ["#N/A", "#DIV/0!", "#REF!", "#NUM!", "#VALUE!", "#NAME?", "#NULL!"])
@pytest.mark.parametrize("place", range(4))
def test_error_from_another_cell_is_passed_on_unchanged(code, place):
    arguments: list[object] = [*GOOD, "metric"]
    arguments[place] = CellError(code)
    problems: list[Problem] = []
    assert evaluate(SHEARING, arguments, problems) == CellError(code)
    assert problems == []


@pytest.mark.parametrize("other", [None, "abc", True, "5 kg"])
def test_error_from_another_cell_comes_before_a_refusal_of_our_own(other):
    assert evaluate(SHEARING, (other, 3.2, CellError("#REF!"))) == CellError("#REF!")
    assert evaluate(moment_sum, ([[1.0], [other]], [[5.0], [CellError("#N/A")]])) == CellError("#N/A")


def test_error_in_a_range_taken_as_a_list_is_passed_on():
    assert evaluate(total, ([[1.0], [CellError("#N/A")], [2.0]],)) == CellError("#N/A")


@pytest.mark.parametrize("spec", [s for s in examples.COMPUTING if s.arguments], ids=examples.name_of)
def test_error_in_the_place_of_each_argument_is_passed_on(spec):
    cells = examples.cells(spec)
    for place in range(len(cells)):
        spoiled = [*cells[:place], CellError("#REF!"), *cells[place + 1 :]]
        assert evaluate(spec, spoiled) == CellError("#REF!")


# Values that are no quantities


@pytest.mark.parametrize(
    ("value", "found"),
    [
        (True, "thickness is the truth value TRUE, a number is wanted"),
        (False, "thickness is the truth value FALSE, a number is wanted"),
        (np.True_, "thickness is the truth value TRUE, a number is wanted"),
        (datetime.date(2024, 3, 2), "thickness is the date or time 2024-03-02, a number is wanted"),
        (datetime.datetime(2024, 3, 2, 1), "date or time 2024-03-02 01:00:00"),
        (datetime.time(12, 30), "date or time 12:30:00"),
        (datetime.timedelta(hours=1), "date or time 1:00:00"),
        (np.datetime64("2024-03-02T00:00:00.000000000"), "the date or time 2024-03-02"),
        (np.timedelta64(5, "ns"), "the date or time 5 nanoseconds"),
        ("12", 'thickness is the text "12", not a number: type the number without quotes'),
        ("12,5", 'thickness is the text "12,5", not a number: write the number with a decimal point'),
        ("12,5 mm", "write the number with a decimal point"),
        ("1e999 mm", "not a number"),
        ("abc", 'thickness is the text "abc", not a number'),
        (math.nan, "thickness is not a finite number"),
        (math.inf, "thickness is not a finite number"),
        (-math.inf, "thickness is not a finite number"),
        (10**400, "thickness is not a finite number"),
        ("1e308 ft", "thickness is not a finite number"),
        (UNITS.Quantity(math.nan, "mm"), "thickness is not a finite number"),
        (Decimal("3.2"), "thickness is of type Decimal, a number is wanted"),
        (b"3.2", "thickness is of type bytes, a number is wanted"),
    ],
)
def test_what_is_no_quantity_is_refused_with_a_sentence(value, found):
    error = refusal(SHEARING, 471.239, value, 310.0)
    assert isinstance(error, WrongType)
    assert found in str(error)


def test_number_that_is_too_large_in_core_units_is_refused():
    assert isinstance(refusal(share_of, 1e308), WrongType)


@pytest.mark.parametrize(
    "value", [np.float64(3.2), np.float32(3.2), np.array(3.2), np.array([3.2]), [3.2], [[3.2]]]
)
def test_number_is_a_number_however_it_is_wrapped(value):
    assert evaluate(SHEARING, (471.239, value, 310)) == pytest.approx(NEWTONS / 1000, rel=1e-7)


def test_whole_numbers_are_taken():
    assert evaluate(SHEARING, (100, 2, 300)) == evaluate(SHEARING, (np.int64(100), 2.0, 300.0)) == 60.0


def test_call_takes_no_range_for_a_single_cell():
    with pytest.raises(WrongType, match="a range is given where one cell is wanted"):
        call(SHEARING, ([1.0, 2.0], 3.2, 310.0))
    with pytest.raises(WrongType, match="a range is given where one cell is wanted"):
        call(SHEARING, (np.array([1.0, 2.0]), 3.2, 310.0))


@pytest.mark.parametrize("way", ["down", "DOWN", " Down "])
def test_choice_is_read_in_any_letter_case(way):
    assert evaluate(share_of, (2.0, 0.5, way)) == -2.0


@pytest.mark.parametrize("way", ["sideways", 1.0])
def test_text_that_is_no_choice_is_refused(way):
    error = refusal(share_of, 2.0, 0.5, way)
    assert isinstance(error, WrongChoice)
    assert "choose from up, Down" in str(error)


@pytest.mark.parametrize("way", [True, datetime.date(2024, 3, 2), b"up"])
def test_what_is_no_text_is_refused_where_a_text_is_wanted(way):
    assert isinstance(refusal(share_of, 2.0, 0.5, way), WrongType)


def test_number_in_a_cell_is_taken_where_a_text_is_wanted():
    assert evaluate(verdict, (-1.0, 4711.0)) == "4711"


# Results


def test_refusal_of_the_function_becomes_an_error_value_with_its_sentence():
    error = refusal(SHEARING, 471.239, 0.0, 310.0)
    assert isinstance(error, OutOfRange)
    assert error.sentence("inch") == "thickness must be greater than 0 in, got 0 in"


@pytest.mark.parametrize("arguments", [(1.0, 0.0), (1e300, 1e-300)])
def test_result_that_is_no_number_is_refused(arguments):
    error = refusal(quotient, *arguments)
    assert isinstance(error, OutOfRange)
    assert str(error) == "the result is not a finite number: check the size of the inputs"


@pytest.mark.parametrize("arguments", [(10.0, 400.0), (-1.0, 0.5)])
def test_overflow_and_complex_results_are_refused(arguments):
    assert isinstance(refusal(power, *arguments), OutOfRange)


@pytest.mark.parametrize(("system", "shown"), [("metric", "too tall by 25.4 mm"), ("inch", "too tall by 1 in")])
def test_text_result_is_written_in_the_units_asked_for(system, shown):
    assert evaluate(verdict, ("25.4 mm", "die", system)) == shown


@pytest.mark.parametrize(("system", "length", "force"), [("metric", 1.0, 1000.0), ("inch", 25.4, 8896.443230521)])
def test_table_result_is_shown_column_by_column(system, length, force):
    first, second = evaluate(rows, (2.0, 3.0, system))
    assert first == [pytest.approx(2.0), pytest.approx(3.0), "first"]
    assert second == [pytest.approx(4.0), pytest.approx(1.5), "second"]
    assert evaluate(rows, (f"{2 * length!r} mm", f"{3 * force!r} N", system))[0][:2] == pytest.approx([2.0, 3.0])


def test_range_where_a_table_result_would_not_fit_is_refused():
    error = refusal(rows, [[1.0], [2.0]], 3.0)
    assert str(error) == "PF_ROWS gives several rows: give it single cells"


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_worksheet_call_equals_the_plain_call(spec, system):
    plain = spec.call(*examples.arguments(spec))
    shown = evaluate(spec, [*examples.cells(spec, system), *([system] if spec.has_units else [])])
    if spec.columns is not None:
        for shown_row, plain_row in zip(shown, plain, strict=True):
            for cell, number, kind in zip(shown_row, plain_row, spec.columns.kinds, strict=True):
                assert cell == number or cell * kind.factor(system) == pytest.approx(number)
    elif isinstance(plain, Wording):
        assert shown == plain.shown(system)
    elif isinstance(plain, str):
        assert shown == plain
    elif spec.result_kind is None:
        assert isinstance(shown, float)
        assert shown * spec.result.factor(system) == pytest.approx(plain, rel=1e-12, abs=1e-12)


# Series: a range taken as one list


@pytest.mark.parametrize(
    ("forces", "positions"),
    [
        ([1.0, 2.0], [10.0, 20.0]),
        ([[1.0], [2.0]], [[10.0], [20.0]]),
        ([[1.0, 2.0]], [[10.0], [20.0]]),
        (np.array([[1.0], [2.0]]), np.array([10, 20])),
        (["1000 N", "2 kN"], ["1 cm", "20 mm"]),
        ([UNITS.Quantity(1.0, "kN"), 2], [10, 20]),
        ([1.0, None, 2.0, None], [10.0, None, 20.0, ""]),
        ([[1.0], [""], [2.0], [" "]], [[10.0], [None], [20.0], [None]]),
    ],
)
def test_series_are_read_in_pairs_and_blank_rows_left_out(forces, positions):
    assert evaluate(moment_sum, (forces, positions)) == 50000.0


def test_single_cell_is_a_series_of_one():
    assert evaluate(total, (2.0,)) == 2.0
    assert evaluate(total, ("2 kN",)) == 2.0
    assert evaluate(total, (1.0, None, "inch")) == pytest.approx(1.0)


@pytest.mark.parametrize("blank", [None, "", [], [None, None], [[None], [""]]])
def test_blank_series_is_missing(blank):
    error = refusal(total, blank)
    assert isinstance(error, MissingValue)
    assert str(error) == "forces is blank"


def test_omitted_optional_series_is_its_default():
    assert evaluate(total, ([1.0, 2.0],)) == evaluate(total, ([1.0, 2.0], None)) == 3.0
    assert evaluate(total, ([1.0, 2.0], [3.0, 4.0])) == 10.0


def test_half_a_row_is_missing_and_says_which():
    error = refusal(moment_sum, [1.0, None, 2.0], [10.0, 15.0, 20.0])
    assert isinstance(error, MissingValue)
    assert str(error) == "forces number 2 is blank"


def test_series_of_different_size_are_refused():
    error = refusal(moment_sum, [1.0, 2.0, 3.0], [10.0, 20.0])
    assert str(error) == "the ranges differ in size: forces has 3 and positions has 2 cells"


@pytest.mark.parametrize("bad", [True, "abc", math.nan, datetime.date(2024, 1, 1), "5 kg"])
def test_bad_element_of_a_series_is_named_by_its_number(bad):
    error = refusal(moment_sum, [1.0, bad], [10.0, 20.0])
    assert isinstance(error, (WrongType, WrongUnit))
    assert "forces number 2" in str(error)


# Explain


def test_explain_gives_formula_numbers_result_and_source():
    assert explain("PF_SHEARING_FORCE", *GOOD).splitlines() == [
        "F = L * t * tau, with cut length 471.239 mm, thickness 3.2 mm, shear strength 310 MPa: 467.469088 kN",
        f"Source: {SHEARING.citation}",
    ]


def test_explain_gives_the_sentence_of_a_failing_call():
    assert (
        explain("shearing_force", 10, 0, 310) == "PF_SHEARING_FORCE: thickness must be greater than 0 mm, got 0 mm"
    )
    inch = explain("shearing_force", 10, 0, 310, "inch")
    assert inch == "PF_SHEARING_FORCE: thickness must be greater than 0 in, got 0 in"


def test_explain_says_that_an_error_was_passed_on():
    assert explanation(SHEARING, (None, CellError("#N/A"), 310)) == [
        "PF_SHEARING_FORCE: thickness is the error #N/A, passed on from its cell"
    ]


def test_explain_of_an_unknown_function_names_the_nearest():
    problems: list[Problem] = []
    assert evaluate(FUNCTIONS["explain"], ("SHEERING_FORCE", 1.0), problems) == CellError("#VALUE!")
    assert str(problems[0].error) == 'name "SHEERING_FORCE" is not known, nearest: PF_SHEARING_FORCE'


@pytest.mark.parametrize("arguments", [(), (None,), ("",)])
def test_explain_without_a_name_is_missing_it(arguments):
    assert str(refusal(FUNCTIONS["explain"], *arguments)) == "name is blank"


def test_explain_is_a_worksheet_function_that_takes_cells_as_they_stand():
    spec = FUNCTIONS["explain"]
    assert evaluate(spec, ("SHEARING_FORCE", *GOOD)) == explain("shearing_force", *GOOD)
    assert evaluate(spec, ("SHEARING_FORCE", CellError("#N/A"), 1, 1)).startswith(
        "PF_SHEARING_FORCE: cut_length is"
    )
    assert evaluate(spec, ("STAGGERED_PEAK_FORCE", [[1.0], [2.0]], [[0.0], [9.0]], 3.0)).count("\n") == 1


@pytest.mark.parametrize("system", ["metric", "inch"])
@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_explain_works_for_every_function(spec, system):
    lines = explanation(spec, [*examples.cells(spec, system), *([system] if spec.has_units else [])])
    assert len(lines) == 2
    assert not any("\n" in line for line in lines)
    assert lines[0].startswith(spec.docs.formula)
    assert lines[1] == f"Source: {spec.citation_of(examples.arguments(spec))}"


CELLS = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(),
    st.integers(),
    st.text(max_size=8),
    st.sampled_from(["12,5", "0.125 in", "45 ksi", "5 kg", "a\nb", "{x}", "inch", "10 %", 10**400]),
    st.sampled_from([CellError("#N/A"), CellError("#DIV/0!")]),
    st.dates(),
    st.lists(st.one_of(st.none(), st.floats(), st.text(max_size=3)), max_size=3),
)


@pytest.mark.parametrize("spec", examples.ALL, ids=examples.name_of)
@settings(max_examples=25)
@given(data=st.data())
def test_no_cell_values_make_evaluate_or_explain_raise(spec, data):
    arguments = data.draw(st.lists(CELLS, max_size=len(spec.arguments) + 2))
    problems: list[Problem] = []
    result = evaluate(spec, arguments, problems)
    grid = result if isinstance(result, list) else [[result]]
    for cell in (cell for row in grid for cell in row):
        assert isinstance(cell, (str, CellError)) or (type(cell) is float and math.isfinite(cell))
    for problem in problems:
        assert problem.error.sentence("inch")
    lines = explanation(spec, arguments)
    assert 1 <= len(lines) <= 2
    assert not any("\n" in line or not line for line in lines)


@pytest.mark.parametrize("spec", [s for s in examples.COMPUTING if s.arguments], ids=examples.name_of)
@settings(max_examples=25)
@given(data=st.data())
def test_no_numbers_near_the_example_make_evaluate_raise(spec, data):
    cells = [
        cell * data.draw(st.sampled_from([1.0, 0.0, -1.0, 1e-9, 1e9, 0.5, 2.0, 1e150]))
        if type(cell) is float
        else cell
        for cell in examples.cells(spec)
    ]
    result = evaluate(spec, cells)
    assert isinstance(result, (str, list, CellError)) or (type(result) is float and math.isfinite(result))
    assert 1 <= len(explanation(spec, cells)) <= 2
