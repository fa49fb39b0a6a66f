"""What the tests of the templates read from a workbook: its formulas, its charts, the lines of its forms."""

from __future__ import annotations

import re
import zipfile
from pathlib import Path
from xml.etree import ElementTree

import openpyxl

from pressfuncs import quantities
from pressfuncs.batch.recalc import recalculate
from pressfuncs.build.templates import file_name
from pressfuncs.quantities import SYSTEMS, Kind
from pressfuncs.templates import template_path

CALL = re.compile(r"\bPF_[A-Z0-9_]+(?=\()")
FORMS = {"press_capacity": "Capacity", "strip_layout": "Strip", "quote": "Quote", "die_setup": "Setup"}
"""Template -> its sheet of labelled lines."""
CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
_KINDS = [kind for kind in vars(quantities).values() if isinstance(kind, Kind) and kind.has_unit]
_UNITS = {"share", "money", "parts", *(kind.unit(system) for kind in _KINDS for system in SYSTEMS)}
_HEAD = "0034444D"
"""Ground of the headings over columns of figures."""


def formula_cells(workbook):
    """Give the cells with formulas, of all sheets."""
    for sheet in workbook.worksheets:
        for row in sheet.iter_rows():
            yield from (cell for cell in row if cell.data_type == "f")


def charts_of(path: Path) -> list[ElementTree.Element]:
    """Return the charts of a workbook."""
    with zipfile.ZipFile(path) as book:
        return [
            ElementTree.fromstring(book.read(name))
            for name in book.namelist()
            if name.startswith("xl/charts/chart")
        ]


def without_unit(label: str) -> str:
    """Return a label without its unit."""
    name, _, unit = label.rpartition(", ")
    return name if unit in _UNITS else label


def lines(sheet) -> dict[str, tuple[str, int]]:
    """Return section and label -> whose the line is, and its row."""
    found, section = {}, ""
    for row in range(4, sheet.max_row + 1):
        label, marker = sheet.cell(row, 1).value, sheet.cell(row, 2).value
        if label and not marker:
            section = label
        elif label:
            found[f"{section}: {without_unit(label)}"] = (marker, row)
    return found


def unit_of(label: str) -> Kind | None:
    """Return the kind whose metric unit stands behind a label; None for plain numbers and texts."""
    unit = label.rpartition(", ")[2]
    return next((kind for kind in _KINDS if kind.metric == unit), None)


def is_number(value) -> bool:
    """Whether a value is a number."""
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def is_heading(cell) -> bool:
    """Whether a text is a label or heading, which differs between the variants by its unit."""
    return isinstance(cell.value, str) and cell.number_format != "@" and (cell.column <= 2 or ", " in cell.value)


def kind_of(sheet, cell) -> Kind | None:
    """Return the kind of a cell: by the label at its left on a form, by the heading over it elsewhere."""
    if sheet.title in FORMS.values():
        return unit_of(str(sheet.cell(cell.row, 1).value))
    for row in range(cell.row - 1, 2, -1):
        heading = sheet.cell(row, cell.column)
        if isinstance(heading.value, str) and heading.fill.start_color.rgb == _HEAD:
            if "1/mm" in heading.value:
                return SCALE
            return unit_of(heading.value)
    return None


class _Scale(Kind):
    """The scale of a drawing: field over length."""

    def factor(self, system: str) -> float:
        """Return how many core units make one."""
        return 1 / quantities.LENGTH.factor(system)


SCALE = _Scale("scale", "scale", "1/mm", "1/mm", "1/in")


def convert(value: float, kind: Kind) -> float:
    """Return a metric number in the inch unit."""
    return value * kind.factor("metric") / kind.factor("inch")


class Filled:
    """The lines of a form by section and label, with stored results."""

    def __init__(self, path: Path, template: str) -> None:
        self.sheet = openpyxl.load_workbook(path, data_only=True)[FORMS[template]]
        self.rows = lines(self.sheet)

    def __call__(self, name: str, column: int = 0):
        """Return what a line holds."""
        return self.sheet.cell(self.rows[name][1], 3 + column).value


def filled(template: str) -> Filled:
    """Return the form of a metric template as it is."""
    return Filled(template_path(file_name(template, "metric")), template)


def changed(tmp_path: Path, template: str, changes: dict[str, object], column: int = 0):
    """Return a template's form with other inputs, recalculated, and what the recalculation found."""
    path = tmp_path / f"{template}.xlsx"
    book = openpyxl.load_workbook(template_path(file_name(template, "metric")))
    sheet = book[FORMS[template]]
    rows = lines(sheet)
    for name, value in changes.items():
        marker, row = rows[name]
        assert marker == "input", name
        sheet.cell(row, 3 + column).value = value
    book.save(path)
    outcome = recalculate(path, path)
    return Filled(path, template), outcome
