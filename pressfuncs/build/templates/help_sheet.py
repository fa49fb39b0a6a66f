"""The help sheet of a template, made from the register: the functions that the workbook uses, and no others."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import styling
from pressfuncs.build.templates.styling import BOLD, CODE, PLAIN, SECTION, WRAPPED, write
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER, file_name
from pressfuncs.registry import PREFIX, UNITS_ARGUMENT, UNITS_HELP, Argument, FunctionSpec, find

SHEET = "Help"
_CALL = re.compile(rf"\b{PREFIX}[A-Z0-9_]+(?=\()")
_WIDTHS = {"A": 34, "B": 24, "C": 16, "D": 92}
_LINE_LETTERS, _WIDE_LETTERS, _LINE_HEIGHT = 110, 215, 14


def functions_in(workbook: Workbook) -> list[FunctionSpec]:
    """Return the functions that the formulas of a workbook call, by chapter and name.

    Raises:
        KeyError: a formula calls a function that is not in the register.
    """
    names = {
        name
        for sheet in workbook.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
        for name in _CALL.findall(cell.value)
    }
    return sorted((find(name) for name in names), key=lambda spec: (spec.chapter, spec.name))


def add_help(workbook: Workbook, name: str, guide: Sequence[str], system: str = METRIC) -> None:
    """Add the help sheet: safety words, how to use the workbook, how to recalculate, and every function.

    Arguments:
        workbook: the finished sheets; their formulas say which functions are described
        name: name of the template
        guide: sentences on this workbook, one a row
        system: units of this variant
    """
    sheet = workbook.create_sheet(SHEET)
    functions = [*functions_in(workbook), find("version")]
    styling.write_title(sheet, "Help", "B2:D2")
    for letter, width in _WIDTHS.items():
        sheet.column_dimensions[letter].width = width
    row = 4
    for title, lines in (("This workbook", guide), ("Recalculating", _recalculating(file_name(name, system)))):
        row = _write_lines(sheet, row, title, lines)
    write(sheet, f"A{row}", "This workbook was made with pressfuncs")
    write(sheet, f"C{row}", __version__, BOLD)
    write(sheet, f"A{row + 1}", "Its results were last computed by pressfuncs")
    write(sheet, f"C{row + 1}", f"={find('version').sheet_name}()", BOLD)
    row += 3
    write(sheet, f"A{row}", "The functions used here", SECTION)
    row += 1
    for letter, heading in zip("ABCD", ("Function", "Argument", "Unit", "What it is")):
        cell = write(sheet, f"{letter}{row}", heading, BOLD, fill=styling.BAND)
        cell.border = styling.HEAD_BOX
    head = row
    for spec in functions:
        row = _write_function(sheet, row + 1, spec, system)
    styling.set_page(sheet, f"A1:D{row}", f"{head}:{head}", __version__, SMALL_PAPER[system])
    sheet.freeze_panes = "A3"


def _recalculating(book: str) -> Iterator[str]:
    yield (
        "The stored results are seen in any spreadsheet program. They are computed anew only where the PF "
        "functions are known; elsewhere an edited cell would show #NAME?, until the workbook is recalculated."
    )
    yield (
        f"Without a spreadsheet program:   pressfuncs recalc {book} --in-place   (and --all, if the inputs "
        "were changed by another program that leaves the results of ordinary formulas as they were)"
    )
    yield f"To see whether the stored results are out of date:   pressfuncs recalc {book} --check"
    yield (
        f"Every function with a dimension takes one last argument, {UNITS_ARGUMENT}: {UNITS_HELP}. A quantity may "
        'also be typed as a text with its unit, such as "0.125 in", where only functions read it: ordinary '
        "arithmetic cannot."
    )
    yield ("A function that refuses its input gives an error value; pressfuncs recalc says why, cell by cell.")


def _write_lines(sheet: Worksheet, row: int, title: str, lines: Sequence[str] | Iterator[str]) -> int:
    """Write a titled list of sentences over the whole width; return the row after it and a blank one."""
    write(sheet, f"A{row}", title, SECTION)
    for line in lines:
        row += 1
        write(sheet, f"A{row}", line, alignment=WRAPPED)
        sheet.merge_cells(f"A{row}:D{row}")
        sheet.row_dimensions[row].height = _height(line, _WIDE_LETTERS)
    return row + 2


def _write_function(sheet: Worksheet, row: int, spec: FunctionSpec, system: str) -> int:
    """Write the rows of one function; return the last of them."""
    first = row
    lines = [("", "", spec.docs.summary), ("formula", "", spec.docs.formula)]
    lines += [("note", "", note) for note in spec.docs.notes.split("\n\n") if note]
    lines += [(argument.label, _unit(argument), _help(argument)) for argument in spec.arguments]
    lines += [("result", spec.result.unit(system), spec.result.name)] if spec.result.has_unit else []
    lines += [("source", "", spec.citation)]
    for label, unit, text in lines:
        write(sheet, f"B{row}", label, alignment=WRAPPED)
        write(sheet, f"C{row}", unit, alignment=WRAPPED)
        write(sheet, f"D{row}", text, BOLD if row == first else PLAIN, alignment=WRAPPED)
        sheet.row_dimensions[row].height = _height(text, _LINE_LETTERS)
        row += 1
    write(sheet, f"A{first}", spec.sheet_name, CODE, alignment=WRAPPED)
    for letter in _WIDTHS:
        sheet[f"{letter}{first}"].border = styling.RULE
    return row - 1


def _unit(argument: Argument) -> str:
    kind = argument.kind
    return f"{kind.metric} ({kind.inch})" if kind.has_unit and kind.inch != kind.metric else kind.metric


def _help(argument: Argument) -> str:
    if argument.required or argument.variadic:
        return argument.help
    if argument.default is None:
        return f"{argument.help} (may stay blank)"
    shown = argument.default if isinstance(argument.default, str) else argument.kind.show(argument.default)
    return f"{argument.help} (blank: {shown})"


def _height(text: str, letters: int) -> float:
    """Return the height of a row in points: spreadsheet programs do not fit merged cells by themselves."""
    return float(_LINE_HEIGHT * max(1, -(-len(text) // letters)))
