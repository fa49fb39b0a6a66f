"""The template press_register: the presses of an invented shop, what their plates say and what follows from it."""

from __future__ import annotations

from collections.abc import Sequence

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.charts import Bar
from pressfuncs.build.templates.columns import Column, in_system
from pressfuncs.build.templates.examples import read_rows
from pressfuncs.build.templates.finish import finished
from pressfuncs.build.templates.form import start
from pressfuncs.build.templates.help_sheet import add_help
from pressfuncs.build.templates.press_columns import DATA_ROW, PRESSES, add_press_table, press_columns
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER
from pressfuncs.quantities import FORCE

NAME = "press_register"
_CHART = "Chart"
_GUIDE = (
    "Sheet Presses: one row a press, from its plate and manual. Columns marked input, with cells boxed by a "
    "broken line, are yours to fill; those marked computed follow. A new row below the last takes them over.",
    "A press with a crank has a rated height and a rod; a hydraulic one has bore, pressure and cylinders. Leave "
    "the others blank.",
    "The capacity of a mechanical press is given at three heights: its rated force holds only near the bottom. "
    "Knuckle and link presses move otherwise than a plain crank: nothing is said above their rated height.",
    "The load limit is the maker's own where given, else 0.8 for straight sides and columns, 0.6 for C-frames.",
    "The reverse load limit is the maker's figure; where it is blank, a tenth of the capacity.",
    "Highest and lowest die: between the slide fully up and fully down in its adjustment, bolster deducted.",
    "pressfuncs assign reads this sheet as its press register. A blank is not known, and its check is not made: "
    "write 0 where there is no bolster, spacer or room for clamps.",
    "Sheet Chart compares the capacities. All presses in this file are invented.",
)


def build(system: str = METRIC) -> bytes:
    """Presses of a shop: plates and manuals, and the capacity, energy and room that follow from them."""
    rows = read_rows("presses", system)
    workbook = Workbook()
    workbook.properties.title = "Press register of an invented shop"
    workbook.properties.creator = "pressfuncs"
    columns = in_system(press_columns(), system)
    sheet = workbook.active
    sheet.title = PRESSES
    add_press_table(sheet, {PRESSES: columns}, rows, SMALL_PAPER[system])
    _add_chart(workbook.create_sheet(_CHART), columns, DATA_ROW + len(rows) - 1, system)
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _add_chart(sheet: Worksheet, columns: Sequence[Column], last: int, system: str) -> None:
    start(sheet, "Capacity of the presses (invented shop)", "D2:L2", {letter: 13 for letter in "ABCDEFGHIJKL"})
    letters = {column.name: get_column_letter(number) for number, column in enumerate(columns, start=1)}

    def area(name: str) -> str:
        return f"'{PRESSES}'!${letters[name]}${DATA_ROW}:${letters[name]}${last}"

    looks = (
        ("Rated force", charts.PALE, ""),
        ("At the bottom", charts.BLUE, ""),
        ("At a quarter of the stroke", charts.ORANGE, "wdUpDiag"),
        ("At half stroke", charts.GREEN, "dkHorz"),
    )
    series = [Bar(area(name), name.lower(), colour, pattern) for name, colour, pattern in looks]
    title, words = "What the presses give at three heights of the slide", f"capacity, {FORCE.unit(system)}"
    sheet.add_chart(charts.bars(series, area("Press"), title, "press", words, (28, 14)), "A4")
    styling.set_page(sheet, "A1:L34", "1:2", __version__, SMALL_PAPER[system])
