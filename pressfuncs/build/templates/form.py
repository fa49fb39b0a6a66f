"""A sheet of labelled lines: an input or a result each, its unit in the label, whose it is in words, and a remark.

Formulas name other lines by their key, `{thickness}`; `Form` writes the cells they stand for. A line with values
for several columns (presses, stations, quantities) refers to lines of as many columns in its own column.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.styles import Alignment
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs.build.templates import styling
from pressfuncs.build.templates.columns import COMPUTED, INPUT, LOOKED_UP
from pressfuncs.build.templates.systems import METRIC, number_format, with_units
from pressfuncs.quantities import Kind

ABOVE_0: tuple[float, float | None] = (0.0, None)
FROM_0: tuple[float, float | None] = (0.0, 1e9)
AT_MOST_1: tuple[float, float | None] = (0.0, 1.0)

FIRST_VALUE = 3
"""Column of the first value: behind the label and the word that says whose it is."""
_RIGHT = Alignment(horizontal="right", vertical="center")
_LEFT = Alignment(horizontal="left", vertical="center", wrap_text=True, indent=1)
_WORDS = Alignment(horizontal="right", vertical="center", indent=1)
_INDENTED = Alignment(horizontal="left", vertical="center", indent=1)


@dataclass(frozen=True)
class Line:
    """One line of a form; `given` and `found` make it."""

    key: str
    label: str
    kind: Kind | None = None
    number_format: str = "General"
    metric: Any = None
    inch: Any = None
    formula: str | Sequence[str] = ""
    unit: str = ""
    remark: str = ""
    choices: str = ""
    between: tuple[float, float | None] | None = None
    whole: bool = False
    marker: str = INPUT
    strong: bool = False
    wide: bool = False
    height: float = 16.0

    def heading(self, system: str) -> str:
        """Return the label with the unit of a variant."""
        unit = self.unit or (self.kind.unit(system) if self.kind else "")
        return f"{self.label}, {unit}" if unit else self.label


def given(key: str, label: str, kind: Kind | None, values: Any, form: str = "General", **more: Any) -> Line:
    """Return an input line.

    Arguments:
        key: its name in formulas
        label: what it is
        kind: kind of quantity, which gives the unit; None for plain numbers and texts
        values: example: one value for both variants, or a pair of metric and inch; a list has one a column
        form: number format of the metric variant
        **more: further fields of `Line`
    """
    metric, inch = values if isinstance(values, tuple) else (values, values)
    return Line(key, label, kind, form, metric, inch, **more)


def found(
    key: str,
    label: str,
    formula: str | Sequence[str],
    kind: Kind | None = None,
    form: str = "General",
    **more: Any,
) -> Line:
    """Return a line with a result; the formula is the metric one without its equals sign, or one a column."""
    return Line(key, label, kind, form, formula=formula, marker=more.pop("marker", COMPUTED), **more)


def looked_up(key: str, label: str, formula: str, kind: Kind | None = None, form: str = "General") -> Line:
    """Return a line with a figure that is fetched from a table."""
    return found(key, label, formula, kind, form, marker=LOOKED_UP)


def start(sheet: Worksheet, title: str, caution: str, widths: Mapping[str, float]) -> None:
    """Give a sheet its title, the safety words, and the widths of its columns."""
    styling.write_title(sheet, title, caution)
    for letter, width in widths.items():
        sheet.column_dimensions[letter].width = width
    sheet.freeze_panes = "A3"


def heading_row(sheet: Worksheet, row: int, headings: Sequence[str]) -> None:
    """Write the headings of plain columns of figures, such as the points of a chart."""
    for number, heading in enumerate(headings, start=1):
        styling.write_heading(sheet, f"{get_column_letter(number)}{row}", heading)
    sheet.row_dimensions[row].height = 48


class Form:
    """Writes lines down a sheet and remembers their cells by key."""

    def __init__(self, sheet: Worksheet, system: str, first_row: int, columns: int = 1) -> None:
        """Begin at a row; `columns` is the number of value columns that sections may use."""
        self.sheet, self.system, self.row, self.columns = sheet, system, first_row, columns
        self._cells: dict[str, list[str]] = {}

    def section(
        self, title: str, lines: Sequence[Line], columns: int = 1, names: str | Sequence[str] = ""
    ) -> None:
        """Write a band with a title, and lines under it, each with so many values.

        Arguments:
            title: what the lines have in common
            lines: the lines in order
            columns: how many values a line has
            names: what stands over the columns: words, or the key of a line whose values they are
        """
        self._band(title, columns, names)
        for number, line in enumerate(lines):
            self._cells[line.key] = [
                f"${get_column_letter(FIRST_VALUE + column)}${self.row + number}" for column in range(columns)
            ]
        for line in lines:
            self._write(line, columns)
        self.row += 1

    def cell(self, key: str, column: int = 0, sheet: bool = False) -> str:
        """Return the absolute address of a line's value, with the sheet if it is wanted elsewhere."""
        address = self._cells[key][column]
        return f"'{self.sheet.title}'!{address}" if sheet else address

    def area(self, key: str) -> str:
        """Return the range of all values of a line, with the sheet."""
        cells = self._cells[key]
        return f"'{self.sheet.title}'!{cells[0]}:{cells[-1]}"

    def names(self, column: int = 0, columns: int = 1, sheet: bool = True) -> dict[str, str]:
        """Return what stands for what in formulas, with the sheet if they are on another one.

        `{force}` is the cell of a line; of a line with as many values as `columns`, the one of this column.
        `{force_2}` is its second value, `{all_force}` all of them.
        """
        names = {}
        for key, cells in self._cells.items():
            names[key] = self.cell(key, column if len(cells) == columns else 0, sheet)
            names[f"all_{key}"] = self.area(key) if sheet else self.area(key).rpartition("!")[2]
            for number in range(len(cells)):
                names[f"{key}_{number + 1}"] = self.cell(key, number, sheet)
        return names

    def _band(self, title: str, columns: int, names: str | Sequence[str]) -> None:
        remark = FIRST_VALUE + columns
        for number in range(1, FIRST_VALUE + self.columns + 1):
            self.sheet.cell(self.row, number).fill = styling.BAND
        styling.write(self.sheet, f"A{self.row}", title, styling.BOLD, fill=styling.BAND, alignment=styling.MIDDLE)
        for column in range(columns if names else 0):
            place = f"{get_column_letter(FIRST_VALUE + column)}{self.row}"
            value = names[column] if not isinstance(names, str) else f"={self.cell(names, column)}"
            styling.write(self.sheet, place, value, styling.BOLD, fill=styling.BAND, alignment=_RIGHT)
        self.sheet.cell(self.row, remark).fill = styling.BAND
        self.sheet.row_dimensions[self.row].height = 18
        self.row += 1

    def _write(self, line: Line, columns: int) -> None:
        row = self.row
        styling.write(self.sheet, f"A{row}", line.heading(self.system), alignment=_INDENTED)
        marked = styling.write(
            self.sheet, f"B{row}", line.marker, styling.SMALL, alignment=Alignment("center", "center")
        )
        if line.marker == INPUT:
            marked.border, marked.fill = styling.INPUT_BOX, styling.INPUT_FILL
        for column in range(columns):
            self._write_value(line, column, columns)
        if line.wide:
            self.sheet.merge_cells(f"C{row}:{get_column_letter(FIRST_VALUE + self.columns - 1)}{row}")
        if line.marker == INPUT:
            self._validate(line)
        if line.remark:
            place = f"{get_column_letter(FIRST_VALUE + columns)}{row}"
            styling.write(self.sheet, place, line.remark, styling.SMALL, alignment=_INDENTED)
        self.sheet.row_dimensions[row].height = line.height
        self.row += 1

    def _write_value(self, line: Line, column: int, columns: int) -> None:
        cell = self._cells[line.key][column].replace("$", "")
        form = number_format(line.kind, line.number_format, self.system)
        if line.formula:
            metric = line.formula if isinstance(line.formula, str) else line.formula[column]
            formula = with_units("=" + metric.format_map(self.names(column, columns, sheet=False)), self.system)
            font = styling.BOLD if line.strong else styling.PLAIN
            written = styling.write(self.sheet, cell, formula, font, border=styling.RESULT_BOX)
            if line.marker == LOOKED_UP:
                written.fill = styling.QUIET
        else:
            value = line.metric if self.system == METRIC else line.inch
            written = styling.write_input(self.sheet, cell, value[column] if isinstance(value, list) else value)
        words = _LEFT if line.wide or form == "@" else _WORDS
        written.alignment = words if form in ("@", "General") else _RIGHT
        written.number_format = form if form in ("@", "General") else styling.padded(form)

    def _validate(self, line: Line) -> None:
        if line.choices:
            rule = DataValidation(type="list", formula1=line.choices, allow_blank=True)
            rule.error = f"{line.label}: choose one of the list."
        elif line.between:
            rule = styling.number_rule(line.between, line.whole)
            unit = line.kind.unit(self.system) if line.kind else ""
            rule.error = f"{line.label}: a number {styling.limits_in_words(line.between, unit)}."
        else:
            return
        rule.errorTitle, rule.showErrorMessage = "Not possible", True
        first, last = (self._cells[line.key][end].replace("$", "") for end in (0, -1))
        rule.add(first if first == last else f"{first}:{last}")
        self.sheet.add_data_validation(rule)
