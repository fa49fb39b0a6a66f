"""The functions through xlwings as Excel calls them: all code of xlwings real, only pywin32 stood in for."""

from __future__ import annotations

import datetime
import io
import re
from collections.abc import Iterator
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

import examples
import golden
import pytest
from excel_com import ERROR_CODES, MISSING, connected
from golden import Case

from pressfuncs.edge import evaluate
from pressfuncs.errors import CellError
from pressfuncs.hosts.excel_texts import ERROR_NUMBERS, HOST_MODULE
from pressfuncs.quantities import SYSTEMS
from pressfuncs.registry import FUNCTIONS

SHEARING = "PF_SHEARING_FORCE"


@pytest.fixture(scope="module")
def excel() -> Iterator[SimpleNamespace]:
    with connected() as side:
        yield side


def ask(excel: SimpleNamespace, name: str, *given: Any) -> Any:
    """Call a worksheet function as the COM server of xlwings is asked to."""
    return excel.server.CallUDF(HOST_MODULE, name, given)


def as_com(value: Any) -> Any:
    """Return the values of cells as COM hands them over: a range as a tuple of rows, a whole number as a float."""
    if isinstance(value, (list, tuple)):
        return tuple(as_com(one) for one in value)
    if isinstance(value, CellError):
        return ERROR_CODES[value.code]
    return float(value) if type(value) is int else value


def judge(case: Case, answer: Any, system: str) -> None:
    if case.error is not None:
        assert answer == case.error.cell
    else:
        case.judge(answer, system)


@pytest.mark.parametrize("system", SYSTEMS)
@pytest.mark.parametrize("case", golden.ALL, ids=lambda case: case.id)
def test_golden_case_through_xlwings(excel: SimpleNamespace, case: Case, system: str):
    for cells in (case.cells(), case.bare_cells(system)):
        given = [*map(as_com, cells), *([system] if case.spec.has_units else [])]
        if not (case.is_text and case.error is None and system != "metric"):
            judge(case, ask(excel, case.spec.sheet_name, *given), system)


@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_every_function_answers_with_what_the_edge_gives(excel: SimpleNamespace, spec: Any):
    cells = examples.cells(spec)
    wanted = evaluate(spec, cells)
    missing = [MISSING if value is None else as_com(value) for value in cells]
    assert ask(excel, spec.sheet_name, *missing) == wanted
    assert ask(excel, spec.sheet_name, *[as_com(v) for v in cells]) == wanted


def test_omitted_arguments_take_their_defaults(excel: SimpleNamespace):
    assert ask(excel, "PF_STRIPPING_FORCE", 100.0) == 20.0
    assert ask(excel, "PF_STRIPPING_FORCE", 100.0, MISSING, MISSING) == 20.0
    assert ask(excel, "PF_STRIPPING_FORCE", 100.0, None, None) == 20.0
    assert ask(excel, "PF_STRIPPING_FORCE", 100.0, ((None,),), "inch") == 20.0


def test_a_required_argument_left_out_or_blank_is_an_error(excel: SimpleNamespace):
    for blank in (MISSING, None, "", "  "):
        assert ask(excel, SHEARING, 471.239, blank, 310.0) == "#VALUE!"


@pytest.mark.parametrize("error", ERROR_CODES)
def test_errors_of_cells_are_passed_on(excel: SimpleNamespace, error: str):
    assert ask(excel, SHEARING, ERROR_CODES[error], 3.2, -1.0) == error
    assert ask(excel, SHEARING, ((1.0,), (ERROR_CODES[error],)), 3.2, 310.0)[1] == [error]
    assert ask(excel, "PF_LOAD_CENTRE", ((1.0,), (ERROR_CODES[error],)), ((1.0,), (2.0,))) == error


def test_error_codes_of_com_are_those_of_excel():
    assert all(code == -2146828288 + ERROR_NUMBERS[text] for text, code in ERROR_CODES.items())


def test_columns_rows_and_tables_keep_their_shape(excel: SimpleNamespace):
    one = 471.239 * 3.2 * 310.0 / 1000
    column = ask(excel, SHEARING, ((471.239,), (-1.0,), ("x",)), 3.2, 310.0)
    assert column == [[pytest.approx(one)], ["#NUM!"], ["#VALUE!"]]
    assert ask(excel, SHEARING, ((471.239, 471.239),), 3.2, 310.0) == pytest.approx([one, one])
    # an array constant of one row arrives flat
    assert ask(excel, SHEARING, (471.239, 471.239), 3.2, 310.0) == pytest.approx([one, one])
    table = ask(excel, SHEARING, ((1.0,), (2.0,)), ((1.0, 2.0, 3.0),), 1000.0)
    assert table == [[1.0, 2.0, 3.0], [2.0, 4.0, 6.0]]


def test_a_function_of_rows_gives_a_table(excel: SimpleNamespace):
    rows = ask(excel, "PF_CAPACITY_CURVE", 1000.0, 6.0, 100.0, 400.0, 5.0)
    assert [len(row) for row in rows] == [2] * 5


def test_cells_in_currency_format_are_numbers(excel: SimpleNamespace):
    assert ask(excel, SHEARING, Decimal("471.239"), 3.2, 310.0) == pytest.approx(467.469088)


def test_truth_values_and_dates_are_refused(excel: SimpleNamespace):
    assert ask(excel, SHEARING, True, 3.2, 310.0) == "#VALUE!"
    day = excel.udfs.pywintypes.TimeType()
    for name, part in {"year": 2024, "month": 5, "day": 6, "hour": 0, "minute": 0, "second": 0}.items():
        setattr(day, name, part)
    day.microsecond = 0
    assert ask(excel, SHEARING, day, 3.2, 310.0) == "#VALUE!"
    assert ask(excel, SHEARING, datetime.datetime(2024, 5, 6), 3.2, 310.0) == "#VALUE!"


def test_explain_takes_any_number_of_values(excel: SimpleNamespace):
    line = ask(excel, "PF_EXPLAIN", "shearing_force", 471.239, ((3.2,),), 310.0)
    assert line.startswith("F = L * t * tau, with cut length 471.239 mm")
    assert "is blank" in ask(excel, "PF_EXPLAIN", "shearing_force", 471.239, MISSING, 310.0)
    assert ask(excel, "PF_EXPLAIN", "no_such_function") == "#VALUE!"


def test_a_function_without_arguments_answers(excel: SimpleNamespace):
    assert ask(excel, "PF_VERSION") == FUNCTIONS["version"].call()


class Project:
    """What `import_udfs` needs of a workbook: it keeps the module and the texts it is given."""

    Name = "book.xlsm"

    def __init__(self, error: type[Exception]) -> None:
        self.module = ""
        self.options: dict[str, dict[str, Any]] = {}
        self.VBProject = self.VBComponents = self.Application = self
        self.Version, self._error = "16.0", error

    def __call__(self, name: str) -> Any:
        """There is no module of this name yet."""
        raise self._error(name)

    def Remove(self, component: object) -> None:
        """Never reached, since there is nothing to remove."""
        raise AssertionError(component)

    def Import(self, path: str) -> None:
        """Take the module that xlwings has written."""
        with open(path, encoding="utf-8") as file:
            self.module = file.read()

    def MacroOptions(self, name: str, **options: Any) -> None:
        """Take the texts of one function."""
        self.options[name.partition("!")[2]] = options


def test_xlwings_imports_every_function_with_its_texts(excel: SimpleNamespace, capsys: pytest.CaptureFixture[str]):
    project = Project(excel.udfs.pywintypes.com_error)
    module = excel.udfs.get_udf_module(HOST_MODULE, None)
    text = io.StringIO()
    excel.udfs.generate_vba_wrapper(HOST_MODULE, module, text, project)
    declared = re.findall(r"^Function (\w+)\((.*)\)$", text.getvalue(), re.MULTILINE)
    assert sorted(name for name, _ in declared) == sorted(spec.sheet_name for spec in FUNCTIONS.values())
    assert ("PF_STRIPPING_FORCE", "force, Optional stripping_share, Optional units") in declared
    assert ("PF_EXPLAIN", "name, ParamArray values()") in declared
    excel.udfs.import_udfs(HOST_MODULE, project)
    capsys.readouterr()
    assert project.module.count("XLPy.CallUDF") >= len(FUNCTIONS)
    options = project.options[SHEARING]
    assert options["Category"] == "pressfuncs: Cutting"
    assert options["Description"].startswith("Force to cut through flat sheet")
    assert options["ArgumentDescriptions"][1] == "sheet thickness, upper end of its tolerance (mm or in)"
    assert {name: len(o["ArgumentDescriptions"] or []) for name, o in project.options.items()} == {
        spec.sheet_name: len(spec.arguments) + spec.has_units for spec in FUNCTIONS.values()
    }
