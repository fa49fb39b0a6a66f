"""Every template opened in a real LibreOffice and recalculated: cell by cell what `pressfuncs recalc` stores."""

from __future__ import annotations

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
    for place in places:
        value = "" if stored[place] is None else stored[place]
        expected = pytest.approx(value, rel=1e-12, abs=1e-12) if isinstance(value, (int, float)) else value
        assert shown[place] == expected, f"{place} {formulas[place]}"


def test_there_are_templates_with_formulas():
    assert len(TEMPLATES) >= 12
    assert all(len(formulas_of(template)) > 50 for template in TEMPLATES)
