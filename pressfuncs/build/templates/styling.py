"""How the templates look: few colours, and nothing that is said by colour alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from openpyxl.cell import Cell
from openpyxl.comments import Comment
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.datavalidation import DataValidation
from openpyxl.worksheet.header_footer import HeaderFooter
from openpyxl.worksheet.properties import PageSetupProperties
from openpyxl.worksheet.table import AutoFilter, Table, TableColumn, TableFormula, TableStyleInfo
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs.batch.report import CAUTION
from pressfuncs.build.templates.columns import INPUT, LOOKED_UP, Column, Tables, expanded

ALARM = "CAUTION: presses maim."
"""The first of the safety words; short, so that it stays in sight beside frozen columns."""

_FONT = "Calibri"
_INK, _LINE, _HEAD, _BAND, _QUIET, _INPUT = "1F2A30", "9AA5AB", "34444D", "DDE3E6", "F2F4F5", "FFF8E1"

PLAIN = Font(name=_FONT, size=10, color=_INK)
BOLD = Font(name=_FONT, size=10, color=_INK, bold=True)
SMALL = Font(name=_FONT, size=9, color=_INK, italic=True)
TITLE = Font(name=_FONT, size=16, color=_INK, bold=True)
SECTION = Font(name=_FONT, size=12, color=_INK, bold=True)
CODE = Font(name="Consolas", size=10, color=_INK, bold=True)
_WRAPPED_FONT = Font(name=_FONT, size=9, color=_INK)
_HEADING = Font(name=_FONT, size=10, color="FFFFFF", bold=True)

_hair, _thin, _dotted = Side("hair", _LINE), Side("thin", _LINE), Side("dotted", "5C6A72")
INPUT_BOX = Border(left=_dotted, right=_dotted, top=_dotted, bottom=_dotted)
_BAND_BOX = Border(left=Side("medium", _INK))
RESULT_BOX = Border(bottom=_hair, right=_hair)
HEAD_BOX = Border(left=_thin, right=_thin, bottom=_thin)
ALERT_BOX = Border(*[Side("thin", _INK)] * 4)  # conditional formats know no thicker lines
RULE = Border(top=Side("medium", _LINE))
ALERT = "F3D3A2"
"""Ground of what needs attention; the words and signs in the cell say it too."""


def fill(colour: str) -> PatternFill:
    """Return a plain fill."""
    return PatternFill("solid", start_color=colour, end_color=colour)


BAND, QUIET, INPUT_FILL = fill(_BAND), fill(_QUIET), fill(_INPUT)
HEAD_FILL = fill(_HEAD)

WRAPPED = Alignment(wrap_text=True, vertical="top")
_CENTRED = Alignment(horizontal="center", vertical="center", wrap_text=True)
MIDDLE = Alignment(vertical="center")


def write(sheet: Worksheet, place: str, value: Any, font: Font = PLAIN, **styles: Any) -> Cell:
    """Write a value with a font, and whatever else of a cell's style is named."""
    cell: Cell = sheet[place]
    cell.value, cell.font = value, font
    for name, style in styles.items():
        setattr(cell, name, style)
    return cell


def write_input(sheet: Worksheet, place: str, value: Any, number_format: str = "General") -> Cell:
    """Write an input cell: boxed by a broken line, on a ground of its own."""
    return write(
        sheet,
        place,
        value,
        BOLD,
        border=INPUT_BOX,
        fill=INPUT_FILL,
        number_format=number_format,
        alignment=MIDDLE,
    )


def write_title(sheet: Worksheet, title: str, caution: str) -> None:
    """Write the title into the first row, and the safety words into the second: in A2 and the cells `caution`."""
    sheet.sheet_view.showGridLines = False
    write(sheet, "A1", title, TITLE, alignment=MIDDLE)
    sheet.row_dimensions[1].height = 26
    write(sheet, "A2", ALARM, BOLD, alignment=MIDDLE)
    write(sheet, caution.partition(":")[0], CAUTION, BOLD, alignment=Alignment(vertical="center", wrap_text=True))
    sheet.merge_cells(caution)
    sheet.row_dimensions[2].height = 30


def write_table(
    sheet: Worksheet,
    name: str,
    first_row: int,
    tables: Tables,
    rows: Sequence[Mapping[str, Any]],
    row_height: float,
) -> None:
    """Write a table: a band of groups, a row that says whose each column is, the headings, and the rows.

    Arguments:
        sheet: the sheet it stands on, from column A on
        name: name of the table, a key of `tables`
        first_row: row of the band; the headings are two rows below
        tables: the columns of all tables that formulas may refer to
        rows: the inputs, by the field of the column
        row_height: height of a row in points
    """
    columns = tables[name]
    head, first, last = first_row + 2, first_row + 3, first_row + 2 + len(rows)
    _write_band(sheet, first_row, columns)
    table = Table(displayName=name, name=name, ref=f"A{head}:{get_column_letter(len(columns))}{last}")
    table.autoFilter = AutoFilter(ref=table.ref)
    for number, column in enumerate(columns, start=1):
        letter = get_column_letter(number)
        sheet.column_dimensions[letter].width = column.width
        _write_heading(sheet, letter, first_row, column)
        formula = expanded(column.formula, name, tables) if column.formula else ""
        filled = TableFormula(attr_text=formula) if formula else None
        table.tableColumns.append(TableColumn(id=number, name=column.heading, calculatedColumnFormula=filled))
        for row, values in enumerate(rows, start=first):
            value = f"={formula}" if formula else values[column.field]
            _write_body(sheet[f"{letter}{row}"], column, value)
        if not column.formula:
            _validate(sheet, column, f"{letter}{first}:{letter}{last}")
    sheet.row_dimensions[head].height = 48
    for row in range(first, last + 1):
        sheet.row_dimensions[row].height = row_height
    table.tableStyleInfo = TableStyleInfo(name="TableStyleLight1", showRowStripes=False)
    sheet.add_table(table)


def _write_band(sheet: Worksheet, row: int, columns: Sequence[Column]) -> None:
    start = 1
    for group, members in groupby(columns, key=lambda column: column.group):
        width = len(list(members))
        for number in range(start, start + width):
            sheet.cell(row, number).fill = BAND
        place = f"{get_column_letter(start)}{row}"
        write(sheet, place, group, BOLD, fill=BAND, border=_BAND_BOX, alignment=MIDDLE)
        start += width
    sheet.row_dimensions[row].height = 18


def _write_heading(sheet: Worksheet, letter: str, first_row: int, column: Column) -> None:
    marked = INPUT_FILL if column.marker == INPUT else QUIET
    box = INPUT_BOX if column.marker == INPUT else HEAD_BOX
    write(sheet, f"{letter}{first_row + 1}", column.marker, SMALL, alignment=_CENTRED, fill=marked, border=box)
    head = write_heading(sheet, f"{letter}{first_row + 2}", column.heading)
    if column.note:
        head.comment = Comment(column.note, "pressfuncs", height=110, width=260)


def write_heading(sheet: Worksheet, place: str, heading: str) -> Cell:
    """Write the heading of a column."""
    return write(sheet, place, heading, _HEADING, alignment=_CENTRED, fill=HEAD_FILL, border=HEAD_BOX)


def _write_body(cell: Cell, column: Column, value: Any) -> None:
    cell.value = value
    cell.font = _WRAPPED_FONT if column.wrapped else PLAIN
    if column.number_format == "General":
        cell.alignment = Alignment(horizontal="left", vertical="center", indent=1, wrap_text=column.wrapped)
    else:
        cell.number_format = padded(column.number_format)
        cell.alignment = Alignment(horizontal="right", vertical="center")
    if column.marker == INPUT:
        cell.border, cell.fill = INPUT_BOX, INPUT_FILL
    else:
        cell.border = RESULT_BOX
        if column.marker == LOOKED_UP:
            cell.fill = QUIET


def _validate(sheet: Worksheet, column: Column, area: str) -> None:
    if column.choices:
        rule = DataValidation(type="list", formula1=column.choices, allow_blank=False)
        rule.error = f"{column.name}: choose one of the list."
    elif column.between:
        rule = number_rule(column.between, column.whole)
        unit = column.kind.unit(column.system) if column.kind else ""
        rule.error = f"{column.name}: a number {limits_in_words(column.between, unit)}."
    else:
        return
    rule.errorTitle = "Not possible"
    rule.showErrorMessage = True
    rule.add(area)
    sheet.add_data_validation(rule)


def mark(sheet: Worksheet, area: str, test: str) -> None:
    """Make the cells of an area bold, boxed and shaded where a test holds; words or signs in them say it too.

    Arguments:
        sheet: the sheet
        area: the cells, "C5:E5"
        test: condition on the first of them, written as {0}
    """
    place = area.replace("$", "")
    rule = FormulaRule(formula=[test.format(place.partition(":")[0])], font=Font(bold=True), fill=fill(ALERT))
    rule.dxf.border = ALERT_BOX
    sheet.conditional_formatting.add(place, rule)


def padded(number_format: str) -> str:
    """Return a number format that leaves room at the right."""
    return ";".join(f"{part}_ " for part in number_format.split(";"))


def number_rule(between: tuple[float, float | None], whole: bool) -> DataValidation:
    """Return the rule of a number: from the first to the second, or greater than the first without a second."""
    least, most = between
    rule = DataValidation(type="whole" if whole else "decimal", allow_blank=True)
    if most is None:
        rule.operator, rule.formula1 = "greaterThan", f"{least:.0f}"
    else:
        rule.operator, rule.formula1, rule.formula2 = "between", f"{least:.0f}", f"{most:.0f}"
    return rule


def limits_in_words(between: tuple[float, float | None], unit: str) -> str:
    """Return the limits of a number as a message says them.

    >>> limits_in_words((0.0, None), "mm")
    'greater than 0 mm'
    """
    least, most = between
    words = f"greater than {least:.0f}" if most is None else f"from {least:.0f} to {most:.0f}"
    return f"{words} {unit}".rstrip()


def set_page(
    sheet: Worksheet, area: str, title_rows: str, version: str, paper: int, title_columns: str = ""
) -> None:
    """Set landscape printing, the printed area, and what is repeated on every page.

    Arguments:
        sheet: the sheet
        area: what is printed, "A1:F20"
        title_rows: rows repeated at the top of every page, "1:6"
        version: version of pressfuncs, for the footer
        paper: number of the paper size in the file format: 8 is A3, 9 is A4
        title_columns: columns repeated at the left of every page, "A:C"
    """
    sheet.print_area = area
    sheet.print_title_rows = title_rows
    if title_columns:
        sheet.print_title_cols = title_columns
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = paper
    sheet.sheet_properties.pageSetUpPr = PageSetupProperties(fitToPage=True)
    sheet.page_setup.fitToWidth, sheet.page_setup.fitToHeight = 1, 0
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.7
    footer: HeaderFooter = sheet.oddFooter
    footer.left.text = "Planning figures only. Verify on the machine's plate."
    footer.center.text = "&A, page &P of &N"
    footer.right.text = f"pressfuncs {version}"
