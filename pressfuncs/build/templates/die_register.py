"""The template die_register.xlsx: dies, presses and sheet materials of an invented shop, and what fits where."""

from __future__ import annotations

from collections.abc import Mapping

from openpyxl import Workbook
from openpyxl.formatting.rule import FormulaRule
from openpyxl.styles import Font
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break, ColBreak
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import styling
from pressfuncs.build.templates.columns import Tables, in_system
from pressfuncs.build.templates.die_register_columns import (
    DATA_ROW,
    DIES,
    FIRST_OF_ROOM,
    FIRST_ROW,
    MATERIALS,
    PRESSES,
    die_columns,
    margin_name,
)
from pressfuncs.build.templates.die_register_presses import material_columns, press_columns
from pressfuncs.build.templates.examples import Row, read_rows
from pressfuncs.build.templates.finish import finished
from pressfuncs.build.templates.help_sheet import add_help
from pressfuncs.build.templates.systems import LARGE_PAPER, METRIC
from pressfuncs.functions._checks import CHECKS

NAME = "die_register"
_GUIDE = (
    "Sheet Dies: a row for each die. Columns marked input, with cells boxed by a broken line, are yours to fill; "
    "those marked looked up or computed follow. A new row below the last takes the formulas over.",
    "Sheet Presses: a row for each press, from its plate and manual. Sheet Materials: where the shear strength of "
    "each sheet comes from. All dies, presses and quantities in this file are invented.",
    "A blank is not known: the checks that need it are not made, and the verdict names them. Write 0 for what "
    "there is none of, such as a pad, a lift or a shank.",
    "The forces of the stroke are taken to act together. Worn edges raise the cut by the edge allowance.",
    "The load limit of the press is applied once, to the force of the whole stroke: its own, else 0.8 in a closed "
    "frame and 0.6 in a C-frame.",
    "The result says NO where a check fails, and partly checked where all that was checked passed: the verdict in "
    "the last column names what failed, by how much, and what was not checked.",
    "A margin less than 0 is marked with ! beside it. The rate run is never more than the press makes.",
    "pressfuncs assign reads both sheets, and tries every die on every press.",
)


def build(system: str = METRIC) -> bytes:
    """Dies, presses and sheets of a shop: force, room and output of every die in its press, and a verdict."""
    dies, materials = (read_rows(name, system) for name in ("dies", "materials"))
    more = {row["press"]: row for row in read_rows("presses_more", system)}
    presses = [{**row, **more[row["press"]]} for row in read_rows("presses", system)]
    tables: Tables = {
        DIES: in_system(die_columns(len(presses), len(materials)), system),
        PRESSES: in_system(press_columns(), system),
        MATERIALS: in_system(material_columns(), system),
    }
    workbook = Workbook()
    workbook.properties.title = "Die register of an invented shop"
    workbook.properties.creator = "pressfuncs"
    _add_dies(workbook.active, tables, dies, LARGE_PAPER[system])
    for name, rows, height in ((PRESSES, presses, 20.0), (MATERIALS, materials, 30.0)):
        _add_table_sheet(workbook.create_sheet(name), tables, rows, height, LARGE_PAPER[system])
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _add_dies(sheet: Worksheet, tables: Tables, rows: list[Row], paper: int) -> None:
    sheet.title = DIES
    styling.write_title(sheet, "Die register (invented shop)", "D2:Q2")
    styling.write_table(sheet, DIES, FIRST_ROW, tables, rows, row_height=25)
    _add_counts(sheet)
    columns, last = tables[DIES], DATA_ROW + len(rows) - 1
    letters = {column.name: get_column_letter(number) for number, column in enumerate(columns, start=1)}
    sheet.freeze_panes = f"D{DATA_ROW}"
    _mark(sheet, letters, last)
    styling.set_page(
        sheet, f"A1:{letters['Verdict']}{last}", f"{FIRST_ROW}:{FIRST_ROW + 2}", __version__, paper, "A:C"
    )
    sheet.sheet_properties.pageSetUpPr.fitToPage = False
    sheet.page_setup.scale = 65 if paper == LARGE_PAPER[METRIC] else 60
    sheet.col_breaks = ColBreak()
    for name in ("Punch entry", "Press", "Cut begins at", margin_name(FIRST_OF_ROOM)):  # pages take whole groups
        sheet.col_breaks.append(Break(id=list(letters).index(name)))


def _add_counts(sheet: Worksheet) -> None:
    """Write the count of the results above the table."""
    counted = (
        'ROWS(Dies[Die])&" dies: "&COUNTIF(Dies[Result],"yes*")&" suitable on paper, "'
        '&COUNTIF(Dies[Result],"NO*")&" not suitable, "&COUNTIF(Dies[Result],"partly*")&" partly checked, "'
        '&COUNTIF(Dies[Result],"ERROR")&" in error"'
    )
    styling.write(sheet, "D3", f"={counted}", styling.BOLD, alignment=styling.MIDDLE)
    sheet.row_dimensions[3].height = 20


def _mark(sheet: Worksheet, letters: Mapping[str, str], last: int) -> None:
    """Add the conditional formats: bold, boxed and shaded, beside words and signs that say the same."""

    def mark(name: str, formula: str, ground: str, font: Font) -> None:
        letter = letters[name]
        rule = FormulaRule(
            formula=[formula.format(cell=f"${letter}{DATA_ROW}")],
            font=font,
            fill=styling.fill(ground),
            border=styling.ALERT_BOX,
        )
        sheet.conditional_formatting.add(f"{letter}{DATA_ROW}:{letter}{last}", rule)

    strong = Font(bold=True)
    mark("Result", 'LEFT({cell},2)="NO"', styling.ALERT, strong)
    mark("Result", '{cell}="ERROR"', styling.ALERT, Font(bold=True, underline="single"))
    for check in CHECKS:
        mark(margin_name(check), "AND(ISNUMBER({cell}),{cell}<0)", styling.ALERT, strong)


def _add_table_sheet(sheet: Worksheet, tables: Tables, rows: list[Row], height: float, paper: int) -> None:
    columns = tables[sheet.title]
    last_letter = get_column_letter(len(columns))
    within = get_column_letter(min(len(columns), 16))  # on the first page
    styling.write_title(sheet, f"{sheet.title} (invented shop)", f"D2:{within}2")
    styling.write_table(sheet, sheet.title, FIRST_ROW, tables, rows, height)
    sheet.freeze_panes = f"B{DATA_ROW}"
    area = f"A1:{last_letter}{DATA_ROW + len(rows) - 1}"
    styling.set_page(sheet, area, f"{FIRST_ROW}:{FIRST_ROW + 2}", __version__, paper, "A:A")
    names = [column.name for column in columns]
    if sheet.title == PRESSES:
        sheet.sheet_properties.pageSetUpPr.fitToPage = False
        sheet.page_setup.scale = 75
        sheet.col_breaks = ColBreak(brk=[Break(id=names.index(name)) for name in ("Shut height", "Drive kind")])
