"""The worked line, and the sentence of a refusal, are the same text in Python, command line, sheet and report."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import examples
import pytest
from click.testing import CliRunner
from openpyxl import Workbook, load_workbook
from openpyxl.utils import get_column_letter

from pressfuncs import explain
from pressfuncs.batch.outcome import Outcome
from pressfuncs.batch.recalc import recalculate
from pressfuncs.cli import handbook, main
from pressfuncs.edge import evaluate
from pressfuncs.registry import FunctionSpec, find

WITH_ARGUMENTS = [spec for spec in examples.COMPUTING if spec.arguments]

every_function = pytest.mark.parametrize("spec", WITH_ARGUMENTS, ids=examples.name_of)


def bad_cells(spec: FunctionSpec) -> list[Any]:
    """Return the example with a first argument that every function refuses."""
    return [[["abc"]] if spec.arguments[0].series else "abc furlongs", *examples.cells(spec)[1:]]


def command_line(spec: FunctionSpec, cells: list[Any], *words: str) -> Any:
    line = ["compute", spec.name, *words]
    for argument, cell in zip(spec.arguments, cells, strict=True):
        for one in [row[0] for row in cell] if isinstance(cell, list) else [cell]:
            if one is not None:
                line += [handbook.flag(argument.name), str(one)]
    return CliRunner().invoke(main, line)


class Sheets:
    """A workbook that asks every function and its explanation, recalculated."""

    def __init__(self, folder: Path) -> None:
        """Write and recalculate it."""
        book = Workbook()
        sheet, self.data = book.active, book.create_sheet("Data")
        self.rows: dict[tuple[str, bool], int] = {}
        for spec in WITH_ARGUMENTS:
            for good, cells in ((True, examples.cells(spec)), (False, bad_cells(spec))):
                row = self.rows[spec.name, good] = len(self.rows) + 1
                words = ", ".join(self.reference(row, place, cell) for place, cell in enumerate(cells, start=1))
                sheet.cell(row, 1).value = f'=PF_EXPLAIN("{spec.name}", {words})'
                sheet.cell(row, 2).value = f"={spec.sheet_name}({words})"
        book.save(folder / "book.xlsx")
        self.outcome: Outcome = recalculate(folder / "book.xlsx", folder / "done.xlsx")
        self.texts = load_workbook(folder / "done.xlsx", data_only=True).active

    def reference(self, row: int, place: int, cell: Any) -> str:
        """Put an argument into the data sheet and return the reference to it."""
        values = [one for (one,) in cell] if isinstance(cell, list) else [cell]
        for number, value in enumerate(values):
            self.data.cell(row, 20 * place + number).value = value
        first, last = (f"{get_column_letter(20 * place + n)}{row}" for n in (0, len(values) - 1))
        return f"Data!{first}:{last}" if isinstance(cell, list) else f"Data!{first}"

    def explanation(self, spec: FunctionSpec, good: bool) -> str:
        """Return what stands in the cell with PF_EXPLAIN."""
        return str(self.texts.cell(self.rows[spec.name, good], 1).value)

    def reported(self, spec: FunctionSpec) -> str:
        """Return the sentence of the report about the cell with the bad call."""
        (failing,) = (f for f in self.outcome.failing if f.cell == f"B{self.rows[spec.name, False]}")
        assert failing.function == spec.sheet_name
        return failing.sentence


@pytest.fixture(scope="module")
def sheets(tmp_path_factory: pytest.TempPathFactory) -> Sheets:
    return Sheets(tmp_path_factory.mktemp("explain"))


@every_function
def test_worked_line_is_the_same_everywhere(spec, sheets: Sheets):
    cells = examples.cells(spec)
    text = explain(spec.name, *cells)
    assert text.count("\n") == 1
    assert evaluate(find("explain"), [spec.name, *cells]) == text
    assert sheets.explanation(spec, good=True) == text
    assert command_line(spec, cells).stdout.splitlines()[:2] == text.splitlines()


@every_function
def test_refusal_is_the_same_sentence_everywhere(spec, sheets: Sheets):
    cells = bad_cells(spec)
    text = explain(spec.sheet_name, *cells)
    prefix = f"{spec.sheet_name}: "
    assert "\n" not in text
    assert text.startswith(prefix)
    sentence = text[len(prefix) :]
    assert sheets.explanation(spec, good=False) == text
    assert sheets.reported(spec) == sentence
    done = command_line(spec, cells, "--json")
    assert (done.exit_code, json.loads(done.stdout)["text"]) == (1, sentence)
    assert done.stderr.endswith(f": {sentence}\n")
