"""pressfuncs.bas, the worksheet functions in VBA: within Excel's limits, and run in real LibreOffice Basic.

In Basic the module calls through all of xlwings' own code into Python and back (excel_basic), so that values,
omitted arguments, ranges and real errors are seen on both sides.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import examples
import excel_basic
import golden
import pytest
from excel_basic import Excel
from golden import Case

from pressfuncs.build import excel_vba
from pressfuncs.edge import evaluate
from pressfuncs.errors import CellError
from pressfuncs.hosts.excel_texts import ERROR_NUMBERS, category, help_of_arguments, help_text
from pressfuncs.registry import FUNCTIONS, FunctionSpec

TEXT = excel_vba.render()
LINES = TEXT.replace("\r\n", "\n").split("\n")

LONGEST_NAME = 255
MOST_ARGUMENTS = 60
LONGEST_HELP = 255
LONGEST_ARGUMENT_LIST = 254
"""Length of the names of all arguments with a comma after each, beyond which the function wizard breaks."""
LARGEST_PROCEDURE = 64_000

every_function = pytest.mark.parametrize("spec", examples.ALL, ids=examples.name_of)


@pytest.fixture(scope="module")
def excel(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Excel]:
    with excel_basic.Office(tmp_path_factory.mktemp("office")) as office:
        yield Excel(office)


def in_basic(value: Any) -> Any:
    """Return a result as the driver shows it."""
    if isinstance(value, list):
        return [in_basic(one) for one in value]
    return f"Error {ERROR_NUMBERS[value.code]}" if isinstance(value, CellError) else value


# Limits


def test_the_text_is_what_the_vba_editor_reads():
    assert TEXT.isascii()
    assert TEXT.startswith('Attribute VB_Name = "')
    assert TEXT.count("\n") == TEXT.count("\r\n")
    assert "Option VBASupport" not in TEXT
    assert max(map(len, LINES)) <= excel_vba.LONGEST_LINE


def test_no_statement_is_continued_too_often():
    continued = 0
    for line in LINES:
        continued = continued + 1 if line.endswith(" _") else 0
        assert continued <= excel_vba.MOST_CONTINUED_LINES, line


def test_no_procedure_is_too_large():
    sizes = [len(part) for part in re.split(r"^End (?:Sub|Function)$", "\n".join(LINES), flags=re.MULTILINE)]
    assert len(sizes) > len(FUNCTIONS)
    assert max(sizes) < LARGEST_PROCEDURE


@every_function
def test_names_are_taken_by_vba_and_no_cells(spec: FunctionSpec):
    names = [*(argument.name for argument in spec.arguments), *(["units"] if spec.has_units else [])]
    for name in [spec.sheet_name, *names]:
        assert re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", name)
        assert len(name) <= LONGEST_NAME
        assert not re.fullmatch(r"[A-Za-z]{1,3}[0-9]+|[Rr][0-9]*[Cc][0-9]*|[RrCc]", name), f"{name} is a cell"
        assert excel_vba.safe_name(name) == name, f"{name} is a word of VBA"
    assert len(set(names)) == len(names)
    assert len(names) <= MOST_ARGUMENTS
    assert sum(len(name) + 1 for name in names) <= LONGEST_ARGUMENT_LIST


@every_function
def test_help_texts_are_shown_whole(spec: FunctionSpec):
    for text in [help_text(spec), category(spec), *help_of_arguments(spec).values()]:
        assert 0 < len(text) <= LONGEST_HELP
        assert "\n" not in text
        assert "object at" not in text


def test_a_text_that_vba_cannot_hold_is_not_written():
    assert excel_vba.literal('"fits" where') == '"""fits"" where"'
    for text in ("45°", "two\nlines"):
        with pytest.raises(ValueError, match="plain ASCII"):
            excel_vba.literal(text)


# In real Basic


@pytest.mark.parametrize("case", golden.ALL, ids=lambda case: case.id)
def test_golden_case_through_basic_and_xlwings(excel: Excel, case: Case):
    cells = case.cells()
    while cells and cells[-1] is None:
        cells.pop()
    for given in (cells, [[[cell]] if not isinstance(cell, list) else cell for cell in cells]):
        answer = excel.ask(case.spec.sheet_name, given)
        if case.error is not None:
            assert answer == f"Error {ERROR_NUMBERS[case.error.cell]}"
        else:
            case.judge(answer, "metric")


@pytest.mark.parametrize("spec", examples.COMPUTING, ids=examples.name_of)
def test_every_function_takes_units_and_gives_what_the_edge_gives(excel: Excel, spec: FunctionSpec):
    cells = [*examples.cells(spec, "inch"), *(["inch"] if spec.has_units else [])]
    wanted = in_basic(evaluate(spec, cells))
    answer = excel.ask(spec.sheet_name, cells)
    if isinstance(wanted, list):
        assert [pytest.approx(row, rel=1e-12) for row in wanted] == answer
    else:
        assert answer == (wanted if isinstance(wanted, str) else pytest.approx(wanted, rel=1e-12))


def test_errors_become_real_errors_one_by_one(excel: Excel):
    ends = [[471.239], ["Error 2042"], [None], [-1.0], ["Error 2045"]]
    good = pytest.approx(467.469088)
    wanted = [[good], ["Error 2042"], ["Error 2015"], ["Error 2036"], ["Error 2045"]]
    assert excel.ask("PF_SHEARING_FORCE", [ends, 3.2, 310.0]) == wanted
    row = [[end for (end,) in ends]]
    assert excel.ask("PF_SHEARING_FORCE", [row, 3.2, 310.0]) == [[one for (one,) in wanted]]
    # as a cell: Basic's IsMissing, unlike VBA's, is also true of an error that is no cell's
    assert excel.ask("PF_SHEARING_FORCE", [[["Error 2007"]], 3.2, 310.0]) == "Error 2007"


def test_money_keeps_its_digits(excel: Excel):
    assert excel.ask("PF_CONVERT", [[["CCur0.123456789"]], "mm", "mm"]) == 0.123456789
    twice = excel.ask("PF_SHEARING_FORCE", [[["CCur0.123456789"], [1.0]], 1.0, 1000.0])
    assert twice == [[0.123456789], [1.0]]


def test_what_is_left_out_takes_its_default(excel: Excel):
    assert excel.ask("PF_STRIPPING_FORCE", [100.0]) == 20.0
    assert excel.ask("PF_STRIPPING_FORCE", [100.0, None, "inch"]) == 20.0
    assert excel.ask("PF_STRIPPING_FORCE", [100.0, [[None]]]) == 20.0


def test_the_macro_gives_the_wizard_every_text(excel: Excel):
    assert excel.call("Registered") == [
        [spec.sheet_name, help_text(spec), category(spec), list(help_of_arguments(spec).values())]
        for spec in sorted(FUNCTIONS.values(), key=chapter_order())
    ]


def chapter_order() -> Any:
    chapters = list(dict.fromkeys(spec.chapter for spec in FUNCTIONS.values()))
    return lambda spec: chapters.index(spec.chapter)


def test_without_python_a_cell_says_name_and_the_cause_is_kept(tmp_path: Path):
    with excel_basic.Office(tmp_path) as office:
        excel = Excel(office)
        excel.call("Disconnect")
        assert excel.ask("PF_SHEARING_FORCE", [471.239, 3.2, 310.0]) == "Error 2029"
        assert excel.call("Problem").startswith("PF_SHEARING_FORCE: ")
