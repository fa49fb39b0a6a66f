"""Every template opened in a real LibreOffice and recalculated: cell by cell what `pressfuncs recalc` stores."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from calc_office import Office, running_office
from openpyxl import load_workbook

from pressfuncs.batch.recalc import recalculate
from pressfuncs.hosts.calc.values import ERROR_NUMBERS

TEMPLATES = sorted((Path(__file__).parent.parent / "workbook_templates").glob("*.xlsx"))
NEW_FUNCTIONS = re.compile(r"_xlfn\.(?:_xlws\.)?([A-Z.]+)\(")
UNKNOWN = "!525"


@pytest.fixture(scope="module")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    with running_office(tmp_path_factory.mktemp("office")) as running:
        yield running


def formulas_of(path: Path) -> dict[str, str]:
    """Return the formula of every cell that holds one, by "Sheet.A1"."""
    return {
        f"{sheet.title}.{cell.coordinate}": cell.value if isinstance(cell.value, str) else cell.value.text
        for sheet in load_workbook(path)
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    }


def stored_in(path: Path) -> dict[str, Any]:
    """Return the value that every cell stores; an error as the tests of Calc write it."""
    values = {
        f"{sheet.title}.{cell.coordinate}": cell.value
        for sheet in load_workbook(path, data_only=True)
        for row in sheet.iter_rows()
        for cell in row
    }
    return {
        place: f"!{ERROR_NUMBERS[value]}" if isinstance(value, str) and value in ERROR_NUMBERS else value
        for place, value in values.items()
    }


def missing_functions(office: Office, formulas: dict[str, str]) -> set[str]:
    """Return the ordinary functions of newer applications that this office does not know."""
    names = sorted({name for formula in formulas.values() for name in NEW_FUNCTIONS.findall(formula)})
    number = office.do("new_book")
    office.do("fill", number, {f"A{place}": f"={name}(1;1;1)" for place, name in enumerate(names, 1)})
    shown = office.do("cells", number, [f"A{place}" for place in range(1, len(names) + 1)])
    office.do("close_book", number)
    return {name for name, value in zip(names, shown, strict=True) if value == UNKNOWN}


def below_missing(path: Path, formulas: dict[str, str], missing: set[str]) -> set[str]:
    """Return the cells that call a missing function, and those of the table columns that read such columns."""
    sheets = load_workbook(path)
    heading = {
        f"{sheet.title}.{cell.column_letter}": str(cell.value)
        for sheet in sheets
        for table in sheet.tables.values()
        for cell in sheet[table.ref][0]
    }
    found = {place for place in formulas if missing & set(NEW_FUNCTIONS.findall(formulas[place]))}
    while True:
        headings = {heading[re.sub(r"\d+$", "", place)] for place in found}
        more = {place for place, text in formulas.items() if any(f"[{name}]" in text for name in headings)}
        if more <= found:
            return found
        found |= more


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.stem)
def test_calc_and_recalc_agree_in_every_cell_of_the_template(office: Office, tmp_path: Path, template: Path):
    shutil.copy(template, tmp_path / "recalculated.xlsx")
    recalculate(template, tmp_path / "recalculated.xlsx")
    formulas, stored = formulas_of(template), stored_in(tmp_path / "recalculated.xlsx")
    number = office.do("open_book", str(template))
    office.do("recalculate", number)
    places = list(formulas)
    shown = dict(zip(places, office.do("cells", number, places), strict=True))
    office.do("close_book", number)
    excused = below_missing(template, formulas, missing_functions(office, formulas))
    assert {place for place, value in shown.items() if value == UNKNOWN} <= excused
    for place in set(places) - excused:
        value = "" if stored[place] is None else stored[place]
        expected = pytest.approx(value, rel=1e-12, abs=1e-12) if isinstance(value, (int, float)) else value
        assert shown[place] == expected, f"{place} {formulas[place]}"


def test_there_are_templates_with_formulas():
    assert len(TEMPLATES) >= 12
    assert all(len(formulas_of(template)) > 50 for template in TEMPLATES)
