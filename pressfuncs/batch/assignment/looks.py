"""How the workbook of an assignment looks: fonts, formats, cells, pages, the chart."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

from openpyxl.cell import WriteOnlyCell
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE
from openpyxl.chart import BarChart, Reference
from openpyxl.chart.label import DataLabelList
from openpyxl.chart.layout import Layout, ManualLayout
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.drawing.line import LineProperties
from openpyxl.styles import Alignment, Border, Font, PatternFill, Side

from pressfuncs.functions._rounding import round_down, round_up
from pressfuncs.quantities import ENERGY, LENGTH, MASS, STROKE_RATE, TORQUE, Kind

_INK, _HEAD, _LINE = "1F2A30", "34444D", "9AA5AB"
_LONGEST_TEXT = 32_767  # characters that a cell holds
_LINE_HEIGHT = 13.5  # points
_PAGE_WIDTH = 260.0  # columns' width that is still legible on one A3 page

NUMBER = "#,##0.####"
STYLES: dict[str, dict[str, Any]] = {
    "plain": {"font": Font(name="Calibri", size=10, color=_INK)},
    "bold": {"font": Font(name="Calibri", size=10, color=_INK, bold=True)},
    "open": {
        "font": Font(name="Calibri", size=10, color=_INK, italic=True),
        "alignment": Alignment(horizontal="right", vertical="top"),
    },
    "count": {
        "font": Font(name="Calibri", size=10, color=_INK),
        "alignment": Alignment(horizontal="center", vertical="top"),
    },
    "title": {"font": Font(name="Calibri", size=16, color=_INK, bold=True)},
    "heading": {
        "font": Font(name="Calibri", size=10, color="FFFFFF", bold=True),
        "fill": PatternFill("solid", start_color=_HEAD, end_color=_HEAD),
        "alignment": Alignment(wrap_text=True, vertical="center", horizontal="center"),
    },
}
"""Named looks of a cell; "open" is a check that could not be made."""
NOT_CHECKED, NO_CHECK = "not checked", "-"
OPEN = (NOT_CHECKED, NO_CHECK)
"""What stands in the place of a margin: a figure is missing; the check does not apply."""

_TOP = Alignment(vertical="top")
_WRAP = Alignment(vertical="top", wrap_text=True, indent=1)
_LAST = Border(bottom=Side("thin", color=_LINE))


@dataclass(frozen=True)
class Column:
    """A column of a sheet; `wrap` for sentences."""

    heading: str
    width: float
    number_format: str = "General"
    wrap: bool = False
    look: str = "plain"


class Painter:
    """Makes the cells of one sheet; a look is worked out once and then copied, for sheets of many rows."""

    def __init__(self, sheet: Any) -> None:
        """Make no cell yet."""
        self.sheet = sheet
        self._made: dict[tuple[Any, ...], Any] = {}

    def cell(
        self, value: Any, look: str = "plain", digits: str = "General", wrap: bool = False, last: bool = False
    ) -> Any:
        """Return a cell; `digits` is its number format, `last` draws a line below it."""
        if isinstance(value, str):
            value = ILLEGAL_CHARACTERS_RE.sub("\N{REPLACEMENT CHARACTER}", value)[:_LONGEST_TEXT]
        made = WriteOnlyCell(self.sheet, value=value)
        key = (look, digits, wrap, last, type(value))
        if key not in self._made:
            made.alignment = _WRAP if wrap else _TOP
            for name, style in STYLES[look].items():
                setattr(made, name, style)
            if last:
                made.border = _LAST
            if isinstance(value, (int, float)) and not isinstance(value, bool):
                made.number_format = digits
            self._made[key] = made._style
        made._style = self._made[key]
        if isinstance(value, str):
            made.data_type = "s"  # a name that looks like a formula, or like an error, stays a name
        return made

    def row(self, columns: list[Column], values: list[Any], last: bool = False) -> list[Any]:
        """Return the cells of a row; what could not be checked stands out."""
        cells: list[Any] = []
        for column, value in zip(columns, values):
            if value is None and not last:
                cells.append(None)
            else:
                look = "open" if value.__class__ is str and value in OPEN else column.look
                cells.append(self.cell(value, look, column.number_format, column.wrap and bool(value), last))
        return cells


def decimals(kind: Kind, system: str) -> int:
    """Return how many decimals of a margin of a kind anybody can act on."""
    if kind in (MASS, ENERGY, TORQUE, STROKE_RATE):
        return 0
    return 1 if system != "inch" else 3 if kind is LENGTH else 2


def number_format(kind: Kind, system: str) -> str:
    """Return the format of margins of a kind."""
    places = decimals(kind, system)
    digits = "#,##0" + ("." + "0" * places if places else "")
    return f"+{digits};-{digits};0"


def no_more(value: float | None, places: int) -> float | None:
    """Return what is available, with as many decimals as are shown: never more than there is.

    >>> no_more(12.39, 1), no_more(-0.01, 1), no_more(0.1 + 0.2, 1)
    (12.3, -0.1, 0.3)
    """
    return None if value is None else round_down(value * 10**places) / 10**places


def no_less(value: float | None, places: int) -> float | None:
    """Return what is needed or used, with as many decimals as are shown: never less than it is.

    >>> no_less(0.8041, 3), no_less(0.1 + 0.2, 1)
    (0.805, 0.3)
    """
    return None if value is None else round_up(value * 10**places) / 10**places


def page(sheet: Any, columns: list[Column], wide: bool = True) -> None:
    """Set up a sheet for printing: A3, as many pages wide as keep it legible; the overview on A4."""
    sheet.page_margins.left = sheet.page_margins.right = 0.4
    sheet.page_margins.top, sheet.page_margins.bottom = 0.5, 0.7
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.paperSize = 8 if wide else 9  # A3, A4
    width = sum(column.width for column in columns)
    sheet.page_setup.fitToWidth = max(1, math.ceil(width / _PAGE_WIDTH)) if wide else 1
    sheet.page_setup.fitToHeight = 0 if wide else 1
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    sheet.oddFooter.left.text = "pressfuncs - planning figures only"
    sheet.oddFooter.right.text = "&A, page &P of &N"


def heading_height(columns: list[Column]) -> float:
    """Return the height of a row of headings, in points."""
    return _LINE_HEIGHT * max((_lines(column.heading, column.width) for column in columns), default=1) + 6


def row_height(columns: list[Column], values: list[Any]) -> float | None:
    """Return the height of a row with a sentence of several lines; None for a row of one line."""
    wrapped = [
        _lines(value, column.width * 1.15) for column, value in zip(columns, values) if column.wrap and value
    ]
    most = max(wrapped, default=1)
    return _LINE_HEIGHT * most if most > 1 else None


def _lines(text: str, width: float) -> int:
    """Return how many lines a text takes, on the generous side: fonts differ."""
    return sum(math.ceil((len(line) + 1) / (0.95 * width)) for line in text.split("\n"))


def chart(sheet: Any, start: int, count: int) -> BarChart:
    """Return a bar for each press: how many dies it is ranked first for."""
    made = BarChart()
    made.type = "bar"
    made.title = None
    made.legend = None
    made.gapWidth = 50
    made.add_data(Reference(sheet, min_col=2, min_row=start, max_row=start + count), titles_from_data=True)
    made.set_categories(Reference(sheet, min_col=1, min_row=start + 1, max_row=start + count))
    made.x_axis.scaling.orientation = "maxMin"
    made.x_axis.delete, made.y_axis.delete = False, True  # every bar carries its number
    made.x_axis.tickLblSkip = 1
    made.y_axis.majorGridlines = None
    made.y_axis.scaling.min = 0
    made.series[0].graphicalProperties.solidFill = _HEAD
    made.dataLabels = DataLabelList(showVal=True, showCatName=False, showSerName=False, showLegendKey=False)
    made.layout = Layout(manualLayout=ManualLayout(xMode="edge", yMode="edge", x=0.12, y=0.02, w=0.8, h=0.96))
    made.graphical_properties = GraphicalProperties(ln=LineProperties(noFill=True))
    made.height, made.width = max(2.5, 0.53 * (count + 1)), 12.5
    return made
