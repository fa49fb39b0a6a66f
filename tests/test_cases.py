"""Every golden case, through the plain call, the edge, the command line and a recalculated workbook."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import golden
import pytest
from click.testing import CliRunner
from golden import Case
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula

from pressfuncs import edge
from pressfuncs.batch.recalc import recalculate
from pressfuncs.cli import handbook, main
from pressfuncs.errors import CellError, PressError
from pressfuncs.quantities import SYSTEMS, Wording
from pressfuncs.registry import FUNCTIONS

WITHOUT_A_CASE = {"version"}
"""Its answer changes with every release; it is tested with the program's own --version."""

every_case = pytest.mark.parametrize("case", golden.ALL, ids=lambda case: case.id)


@every_case
def test_plain_call_gives_the_published_value(case: Case):
    if case.error is not None:
        with pytest.raises(case.error) as refusal:
            case.spec.call(*case.core())  # core() itself refuses a wrong unit
        assert type(refusal.value) is case.error
        return
    result = case.spec.call(*case.core())
    case.judge(result.shown("metric") if isinstance(result, Wording) else result, "core")


def through_the_edge(case: Case, cells: list[Any], system: str) -> None:
    """Ask the edge and judge its answer: the value, or the error and its code in the cell."""
    arguments = [*cells, system] if case.spec.has_units else cells
    problems: list[edge.Problem] = []
    found = edge.evaluate(case.spec, arguments, problems)
    if case.error is not None:
        assert [type(problem.error) for problem in problems] == [case.error]
        assert found == CellError(case.error.cell)
        return
    assert problems == []
    if not case.is_text or system == "metric":
        case.judge(found, system)


@pytest.mark.parametrize("system", SYSTEMS)
@every_case
def test_edge_on_texts_with_units_gives_the_published_value(case: Case, system: str):
    through_the_edge(case, case.cells(), system)


@pytest.mark.parametrize("system", SYSTEMS)
@every_case
def test_edge_on_bare_numbers_gives_the_published_value(case: Case, system: str):
    through_the_edge(case, case.bare_cells(system), system)


@every_case
def test_command_line_gives_the_published_value(case: Case):
    words = ["compute", case.function, "--json"]
    for argument in case.spec.arguments:
        texts = case.given.get(argument.name, [])
        for text in texts if argument.variadic else [", ".join(texts)] if texts else []:
            words += [handbook.flag(argument.name), text]
    done = CliRunner().invoke(main, words)
    answer = json.loads(done.stdout)
    if case.error is not None:
        assert (done.exit_code, answer["error"], answer["cell"]) == (1, case.error.__name__, case.error.cell)
        return
    assert done.exit_code == 0
    case.judge(answer["value"], "metric")


# One workbook with every case as a formula


def write_workbook(path: Path) -> dict[str, Any]:
    """Write a workbook that asks every case; return id -> where its answer will be (sheet, cell or range)."""
    book = Workbook()
    sheet = book.active
    sheet.title = "Cases"
    series, tables = book.create_sheet("Series"), book.create_sheet("Tables")
    places: dict[str, Any] = {}
    free = 3  # the row below all tables so far: openpyxl knows their first cells only
    for row, case in enumerate(golden.ALL, start=2):
        references = []
        for column, value in enumerate(case.cells(), start=3):
            cell = sheet.cell(row, column)
            if isinstance(value, list):
                letter = get_column_letter(series.max_column + 1)
                for number, (one,) in enumerate(value, start=1):
                    series[f"{letter}{number}"] = one
                references.append(f"Series!${letter}$1:${letter}${len(value)}")
            else:
                cell.value = value
                references.append(f"Cases!{cell.coordinate}")
        formula = f"={case.spec.sheet_name}({', '.join(references)})"
        sheet.cell(row, 1).value = case.id
        if case.spec.columns is not None and case.error is None:
            top, high = free, len(case.expected.split(golden.ROWS))
            free += high + 1
            where = f"A{top}:{get_column_letter(len(case.spec.columns.kinds))}{top + high - 1}"
            tables[f"A{top}"] = ArrayFormula(where, formula)
            places[case.id] = ("Tables", where)
        else:
            sheet.cell(row, 2).value = formula
            places[case.id] = ("Cases", f"B{row}")
    book.save(path)
    return places


@pytest.fixture(scope="module")
def answers(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Return id -> what stands in the recalculated workbook, read as another program would."""
    folder = tmp_path_factory.mktemp("cases")
    places = write_workbook(folder / "cases.xlsx")
    outcome = recalculate(folder / "cases.xlsx", folder / "recalculated.xlsx")
    assert outcome.complete
    assert outcome.calls == len(golden.ALL)
    book = load_workbook(folder / "recalculated.xlsx", data_only=True)
    found = {}
    for name, (sheet, where) in places.items():
        cells = book[sheet][where]
        found[name] = [[c.value for c in row] for row in cells] if isinstance(cells, tuple) else cells.value
    return found


@every_case
def test_recalculated_workbook_holds_the_published_value(case: Case, answers: dict[str, Any]):
    found = answers[case.id]
    if case.error is not None:
        assert found == case.error.cell
    else:
        case.judge(found, "metric")


# The table itself


def test_every_function_has_a_case():
    assert set(FUNCTIONS) - {case.function for case in golden.ALL} == WITHOUT_A_CASE


def test_ids_are_unique_and_chapters_stand_together():
    assert len({case.id for case in golden.ALL}) == len(golden.ALL)
    chapters = [case.spec.chapter for case in golden.ALL]
    assert chapters == sorted(chapters)


@every_case
def test_row_says_where_it_comes_from_and_can_fail(case: Case):
    assert case.status in golden.STATUSES
    assert case.source
    assert case.expected
    if case.status in ("seen", "part", "recalled"):
        assert not case.source.startswith("common practice")
    if case.error is not None:
        assert issubclass(case.error, PressError)
        assert (case.unit, case.tolerance, case.wrong) == ("", "", "")
    elif case.is_text:
        assert (case.unit, case.tolerance) == ("", "")
        assert case.wrong != case.expected
    else:
        assert 0 < float(case.tolerance) <= 0.03
        assert not case.wrong or not case.near(float(case.wrong), case.expected)


def test_enough_cases_come_from_outside_our_own_arithmetic():
    outside = [case for case in golden.ALL if case.status != "practice"]
    assert len(outside) >= 120
    assert len([case for case in golden.ALL if case.wrong]) >= 20


@pytest.mark.parametrize("off", [1.001, 0.999])
def test_judge_sees_a_value_that_is_off(off: float):
    (case,) = (case for case in golden.ALL if case.id == "C2")
    case.judge(549778.7, "core")
    with pytest.raises(AssertionError):
        case.judge(549778.7 * off, "core")
    with pytest.raises(AssertionError):
        case.judge(549778.7, "metric")


def test_judge_sees_the_wrong_value():
    (case,) = (case for case in golden.ALL if case.id == "TRAP2")
    with pytest.raises(AssertionError):
        case.judge(267.8, "metric")


def test_judge_sees_a_row_that_is_off():
    (case,) = (case for case in golden.ALL if case.id == "M5curve")
    rows = case.spec.call(*case.core())
    case.judge(rows, "core")
    with pytest.raises(AssertionError):
        case.judge(rows[:-1], "core")
    with pytest.raises(AssertionError):
        case.judge([*rows[:-1], (rows[-1][0], rows[-1][1] * 1.001)], "core")
