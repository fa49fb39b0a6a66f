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
from pressfuncs.build.templates.die_register_columns import DIES, MATERIALS, die_columns, material_columns
from pressfuncs.build.templates.die_register_results import PAGES, margin_name
from pressfuncs.build.templates.examples import Row, read_rows
from pressfuncs.build.templates.finish import finished
from pressfuncs.build.templates.help_sheet import add_help
from pressfuncs.build.templates.press_columns import (
    DATA_ROW,
    FIRST_ROW,
    PRESSES,
    add_press_table,
    page_breaks,
    press_columns,
)
from pressfuncs.build.templates.systems import LARGE_PAPER, METRIC, SMALL_PAPER
from pressfuncs.functions._checks import CHECKS

NAME = "die_register"
_GUIDE = (
    "Sheet Dies: one row a die. Columns marked input, with cells boxed by a broken line, are yours to fill; those "
    "marked looked up or computed follow. A new row below the last takes the formulas over.",
    "Sheet Presses: one row a press, from its plate and manual. Sheet Materials: where the shear strength of each "
    "sheet comes from. All dies, presses and quantities in this file are invented.",
    "A blank means not known: what hangs on it stays blank, and its check is not made. Write 0 where there is "
    "none: forming, pads, slugs, lift, shank. Notes on the headings say what else a blank may mean.",
    "The verdict is yes, on paper, only where all checks passed that the die asks for; partly checked where some "
    "could not be made; NO where one fails. It names each check that failed, by how much, or was not made.",
    "A die that forms, or only forms, has its working height stated. Its energy is taken as the whole force down "
    "to the bottom, which is more than it takes: where that is too much, the check is not made.",
    "The load limit is that of the press, by its frame or the maker's own, and is applied once.",
    "A margin less than 0 is marked with ! beside it. The rate run is never more than the press makes.",
    "pressfuncs assign reads this workbook as both of its registers: which other press would do?",
)


def build(system: str = METRIC) -> bytes:
    """Dies, presses and sheets of a shop: force, room and output of every die in its press, and a verdict."""
    dies, presses, materials = (read_rows(name, system) for name in ("dies", "presses", "materials"))
    tables: Tables = {
        DIES: in_system(die_columns(len(presses), len(materials)), system),
        PRESSES: in_system(press_columns(), system),
        MATERIALS: in_system(material_columns(), system),
    }
    workbook = Workbook()
    workbook.properties.title = "Die register of an invented shop"
    workbook.properties.creator = "pressfuncs"
    _add_dies(workbook.active, tables, dies, LARGE_PAPER[system])
    add_press_table(workbook.create_sheet(PRESSES), tables, presses, SMALL_PAPER[system])
    _add_materials(workbook.create_sheet(MATERIALS), tables, materials, SMALL_PAPER[system])
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _add_dies(sheet: Worksheet, tables: Tables, rows: list[Row], paper: int) -> None:
    sheet.title = DIES
    styling.write_title(sheet, "Die register (invented shop)", "D2:Q2")
    styling.write_table(sheet, DIES, FIRST_ROW, tables, rows, row_height=25)
    counted = (
        'ROWS(Dies[Die])&" dies: "&COUNTIF(Dies[Result],"yes*")&" suitable on paper, "'
        '&COUNTIF(Dies[Result],"NO*")&" not suitable, "&COUNTIF(Dies[Result],"partly*")&" partly checked, "'
        '&COUNTIF(Dies[Result],"ERROR")&" in error"'
    )
    styling.write(sheet, "D3", f"={counted}", styling.BOLD, alignment=styling.MIDDLE)
    sheet.row_dimensions[3].height = 20
    columns, last = tables[DIES], DATA_ROW + len(rows) - 1
    letters = {column.name: get_column_letter(number) for number, column in enumerate(columns, start=1)}
    sheet.freeze_panes = f"D{DATA_ROW}"
    _mark(sheet, letters, last)
    styling.set_page(
        sheet, f"A1:{letters['Verdict']}{last}", f"{FIRST_ROW}:{FIRST_ROW + 2}", __version__, paper, "A:C"
    )
    sheet.sheet_properties.pageSetUpPr.fitToPage = False
    sheet.page_setup.scale = 65 if paper == LARGE_PAPER[METRIC] else 60
    sheet.col_breaks = ColBreak(brk=[Break(id=number) for number in page_breaks(columns, PAGES)])


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
    mark("Closing", 'LEFT({cell},8)="too tall"', styling.ALERT, strong)


def _add_materials(sheet: Worksheet, tables: Tables, rows: list[Row], paper: int) -> None:
    last_letter = get_column_letter(len(tables[MATERIALS]))
    styling.write_title(sheet, f"{MATERIALS} (invented shop)", f"D2:{last_letter}2")
    styling.write_table(sheet, MATERIALS, FIRST_ROW, tables, rows, 30)
    sheet.freeze_panes = f"B{DATA_ROW}"
    area = f"A1:{last_letter}{DATA_ROW + len(rows) - 1}"
    styling.set_page(sheet, area, f"{FIRST_ROW}:{FIRST_ROW + 2}", __version__, paper)
