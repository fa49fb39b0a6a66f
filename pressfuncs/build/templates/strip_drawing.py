"""The drawing of a strip to scale: outlines of strip and blanks as points, computed by formulas on a sheet.

All points are scaled into a field that is 1 wide and 1 / RATIO high, so that the chart's fixed axes keep the
drawing's proportions whatever is typed in.
"""

from __future__ import annotations

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.charts import Curve
from pressfuncs.build.templates.form import Form, heading_row, start
from pressfuncs.build.templates.systems import SMALL_PAPER
from pressfuncs.quantities import LENGTH

SHEET = "Drawing"
RATIO = 1.8
"""Width over height of the field."""
STAGGERED = "staggered discs"

_ROWS, _PITCHES, _CORNER = 4, 4, 7
_SETTING, _FIRST = 7, 10
_LAST = _FIRST + 4 * _CORNER
"""Last point of a blank: the first again."""
_EDGE = _LAST + 3
_X = 7
"""Column of the first blank; the heights of the rows stand behind the last."""
_Y = _X + _ROWS * _PITCHES


def draw(sheet: Worksheet, form: Form) -> list[Curve]:
    """Write the points, and return the lines of the chart: strip, blanks, pitch."""
    start(
        sheet, "Points of the drawing", "E2:P2", {get_column_letter(column): 10 for column in range(1, _Y + _ROWS)}
    )
    unit = LENGTH.unit(form.system)
    names = form.names()
    texts = {
        "A4": f'"strip "&TEXT({{width}},"0.0##")&" {unit} wide, utilisation "&TEXT({{utilisation}},"0.0%")',
        "G4": '"blanks, rows: "&{rows}',
        "M4": f'"pitch "&TEXT({{pitch}},"0.0##")&" {unit}"',
    }
    _write(sheet, {place: formula.format_map(names) for place, formula in texts.items()}, "General")
    _settings(sheet, names, unit)
    _blank(sheet, names, unit)
    _edges(sheet, names)
    styling.set_page(
        sheet, f"A1:{get_column_letter(_Y + _ROWS - 1)}{_EDGE + 5}", "1:3", __version__, SMALL_PAPER[form.system]
    )
    return _curves()


def _write(sheet: Worksheet, formulas: dict[str, str], number_format: str) -> None:
    for place, formula in formulas.items():
        styling.write(sheet, place, f"={formula}", number_format=number_format)


def _settings(sheet: Worksheet, names: dict[str, str], unit: str) -> None:
    """Write how far apart the rows are, how long a piece is drawn, and the scale with its margins."""
    headings = (f"Row step, {unit}", f"Length drawn, {unit}", f"Scale, 1/{unit}", "Left margin", "Lower margin")
    heading_row(sheet, _SETTING - 1, headings)
    row = _SETTING
    staggered = f'{{layout}}="{STAGGERED}"'
    formulas = {
        f"A{row}": f"IF({staggered},SQRT(3)/2*({{along}}+{{bridge}}),{{across}}+{{bridge}})",
        f"B{row}": f"{_PITCHES}*{{pitch}}+IF({staggered},{{pitch}}/2,0)",
        f"C{row}": f"0.96/MAX(B{row},{RATIO}*{{width}})",
        f"D{row}": f"(1-B{row}*C{row})/2",
        f"E{row}": f"(1/{RATIO}-{{width}}*C{row})/2",
    }
    _write(sheet, {place: formula.format_map(names) for place, formula in formulas.items()}, "0.0000")


def _blank(sheet: Worksheet, names: dict[str, str], unit: str) -> None:
    """Write the outline of a blank round its centre, and of every blank that is drawn, scaled."""
    blanks = [f"x, row {row + 1} no. {number + 1}" for row in range(_ROWS) for number in range(_PITCHES)]
    heights = [f"y, row {row + 1}" for row in range(_ROWS)]
    side = ("Side along", "Side across", f"Along, {unit}", f"Across, {unit}")
    heading_row(sheet, _FIRST - 1, ("Point", "Angle, deg", *side, *blanks, *heights))
    for point in range(4 * _CORNER + 1):
        row = _FIRST + point
        corner, step = divmod(point % (4 * _CORNER), _CORNER)
        along, across = ((1, 1), (-1, 1), (-1, -1), (1, -1))[corner]
        constants = (point, 90 * corner + 90 * step / (_CORNER - 1), along, across)
        for column, value in enumerate(constants, start=1):
            styling.write(sheet, f"{get_column_letter(column)}{row}", value)
        formulas = {
            f"E{row}": f"C{row}*({{along}}/2-{{radius}})+{{radius}}*COS(RADIANS(B{row}))",
            f"F{row}": f"D{row}*({{across}}/2-{{radius}})+{{radius}}*SIN(RADIANS(B{row}))",
        }
        for line in range(_ROWS):
            for number in range(_PITCHES):
                letter = get_column_letter(_X + line * _PITCHES + number)
                formulas[f"{letter}{row}"] = _scaled_x(f"{_centre_x(line, number)}+$E{row}")
            formulas[f"{get_column_letter(_Y + line)}{row}"] = _scaled_y(f"{_centre_y(line)}+$F{row}")
        _write(sheet, {place: formula.format_map(names) for place, formula in formulas.items()}, "0.000")


def _row_drawn(line: int) -> str:
    """Return which row stands in for this one: the last one, where there are not so many."""
    return f"MIN({line},{{rows}}-1)"


def _centre_x(line: int, number: int) -> str:
    shift = f'IF({{layout}}="{STAGGERED}",MOD({_row_drawn(line)},2)/2,0)'
    return f"({number + 0.5}+{shift})*{{pitch}}"


def _centre_y(line: int) -> str:
    return f"({{side_cut}}/2+{{bridge}}+{{across}}/2+{_row_drawn(line)}*$A${_SETTING})"


def _scaled_x(place: str) -> str:
    return f"$D${_SETTING}+$C${_SETTING}*({place})"


def _scaled_y(place: str) -> str:
    return f"$E${_SETTING}+$C${_SETTING}*({place})"


def _edges(sheet: Worksheet, names: dict[str, str]) -> None:
    """Write the two edges of the strip, its two open ends, and the pitch between two blanks of the first row."""
    headings = (
        "x of edges",
        "y, lower",
        "y, upper",
        "x, left end",
        "x, right end",
        "x, pitch",
        "y, pitch",
        "y, ends",
    )
    heading_row(sheet, _EDGE - 1, headings)
    for number in range(2):
        row = _EDGE + number
        formulas = {
            f"A{row}": _scaled_x(f"{number}*$B${_SETTING}"),
            f"B{row}": _scaled_y("0"),
            f"C{row}": _scaled_y("{width}"),
            f"D{row}": _scaled_x("0"),
            f"E{row}": _scaled_x(f"$B${_SETTING}"),
            f"F{row}": _scaled_x(_centre_x(0, 1 + number)),
            f"G{row}": _scaled_y(_centre_y(0)),
            f"H{row}": _scaled_y(f"{number}*{{width}}"),
        }
        _write(sheet, {place: formula.format_map(names) for place, formula in formulas.items()}, "0.000")


def _curves() -> list[Curve]:
    def points(letter: str, first: int, last: int) -> str:
        return f"'{SHEET}'!${letter}${first}:${letter}${last}"

    def edge(letter: str) -> str:
        return points(letter, _EDGE, _EDGE + 1)

    strip, blanks, pitch = (f"'{SHEET}'!${letter}$4" for letter in "AGM")
    curves = [
        Curve(edge("A"), edge("B"), strip, charts.INK, 2.5),
        Curve(edge("A"), edge("C"), strip, charts.INK, 2.5, in_legend=False),
        Curve(edge("D"), edge("H"), strip, charts.INK, 1, "dash", in_legend=False),
        Curve(edge("E"), edge("H"), strip, charts.INK, 1, "dash", in_legend=False),
    ]
    for line in range(_ROWS):
        height = points(get_column_letter(_Y + line), _FIRST, _LAST)
        for number in range(_PITCHES):
            along = points(get_column_letter(_X + line * _PITCHES + number), _FIRST, _LAST)
            curves.append(Curve(along, height, blanks, charts.BLUE, 1.75, in_legend=line + number == 0))
    curves.append(Curve(edge("F"), edge("G"), pitch, charts.ORANGE, 1.5, "sysDash", marker="diamond"))
    return curves
