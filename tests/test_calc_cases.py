"""Every golden case in a real LibreOffice Calc: one workbook, opened once, each case asked four times."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import golden
import pytest
from calc_office import Office, running_office
from golden import Case
from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.formula import ArrayFormula

from pressfuncs import edge
from pressfuncs.errors import CellError
from pressfuncs.hosts.calc.values import ERROR_NUMBERS
from pressfuncs.quantities import SYSTEMS


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with running_office(tmp_path_factory.mktemp("office")) as running:
        yield running


@dataclass
class Asked:
    """A call in the book of cases: where its result stands, and the row of its arguments."""

    case: Case
    cells: list[Any]
    system: str
    result: str
    row: int
    exact: bool = False

    def expected(self, held: list[Any]) -> Any:
        """Return what the edge makes of the arguments as Calc holds them in their cells."""
        left = iter(held)
        cells = [[[next(left)] for _ in one] if isinstance(one, list) else next(left) for one in self.cells]
        self.exact = cells == self.cells
        return edge.evaluate(self.case.spec, [*cells, self.system] if self.case.spec.has_units else cells)

    def fault(self, found: list[list[Any]], held: list[Any]) -> str:
        """Hold what Calc shows against the edge and the row of the table; return what is wrong, if anything."""
        case = self.case
        wanted = self.expected(held)
        rows = case.spec.columns is not None and case.error is None
        value = found if rows else found[0][0]
        if isinstance(wanted, CellError):
            wanted = f"!{ERROR_NUMBERS[wanted.code]}"
        if value != wanted:
            return f"{case.id} {self.system}: {value!r} is not {wanted!r}"
        if not self.exact:  # the reader of the file was off in the last digit, and a boundary may lie there
            return ""
        try:
            if case.error is not None:
                assert value == f"!{ERROR_NUMBERS[case.error.cell]}"
            elif not case.is_text or self.system == "metric":
                case.judge(value, self.system)
        except (AssertionError, TypeError) as failure:
            return f"{case.id} {self.system}: {value!r}: {failure}"
        return ""


class CasesBook:
    """Golden cases laid out in one sheet: a result at the left, its arguments to the right of it."""

    FIRST = 8

    def __init__(self) -> None:
        self.book = Workbook()
        self.sheet = self.book.active
        self.row = 1
        self.asked: list[Asked] = []

    def ask(self, case: Case, cells: list[Any], system: str, *, blanks: bool) -> None:
        """Add a call; arguments that are not given refer to blank cells, or are left out."""
        column = self.FIRST
        references = []
        for value in cells:
            values = [one for (one,) in value] if isinstance(value, list) else [value]
            places = [f"{get_column_letter(column + i)}{self.row}" for i in range(len(values))]
            for place, one in zip(places, values, strict=True):
                self.sheet[place] = one
            column += len(values)
            if value is None and not blanks:
                references.append("")
            else:
                references.append(":".join(dict.fromkeys((places[0], places[-1]))))
        if case.spec.has_units:
            references.append(f'"{system}"')
        formula = f"={case.spec.sheet_name}({','.join(references)})"
        height, width = 1, 1
        if case.spec.columns is not None and case.error is None:
            height, width = len(case.expected.split(golden.ROWS.strip())), len(case.spec.columns.kinds)
        block = f"A{self.row}:{get_column_letter(width)}{self.row + height - 1}"
        self.sheet.cell(self.row, 1, formula if height == width == 1 else ArrayFormula(block, formula))
        assert column <= 52
        self.asked.append(Asked(case, cells, system, block, self.row))
        self.row += height


def test_every_golden_case_opened_from_one_xlsx_file(office: Office, tmp_path: Path):
    cases = CasesBook()
    for case in golden.ALL:
        for system in SYSTEMS:
            cases.ask(case, case.cells(), system, blanks=False)
            cases.ask(case, case.bare_cells(system), system, blanks=True)
    cases.book.save(tmp_path / "cases.xlsx")
    number = office.do("open_book", str(tmp_path / "cases.xlsx"))
    held = office.do("contents", number, f"A1:AZ{cases.row}")
    results = office.do("blocks", number, [asked.result for asked in cases.asked])
    faults = [
        asked.fault(found, held[asked.row - 1][CasesBook.FIRST - 1 :])
        for asked, found in zip(cases.asked, results, strict=True)
    ]
    office.do("close_book", number)
    assert not any(faults), "\n".join(filter(None, faults))
    exact = {asked.case.id for asked in cases.asked if asked.exact and asked.system == "metric"}
    assert exact == {case.id for case in golden.ALL}
    assert len(cases.asked) == 4 * len(golden.ALL)
