"""The two drawings of a die setup: closed heights side by side, and the die with its load centre on the bed."""

from __future__ import annotations

from openpyxl.chart import BarChart, ScatterChart
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.charts import Bar, Curve
from pressfuncs.build.templates.form import Form, heading_row, start
from pressfuncs.build.templates.systems import SMALL_PAPER, number_format
from pressfuncs.quantities import LENGTH

DRAWING = "Drawing"
_STACK, _SCALE, _OUTLINES, _POINTS = 6, 11, 15, 23
"""First rows of the four blocks of figures on the sheet."""
_RATIO = 2.0
"""Width over height of the plan."""


def draw_stack(sheet: Worksheet, form: Form) -> BarChart:
    """Write the heights of press and die on the sheet, and return them as two stacks to scale."""
    start(sheet, "Points of the drawings", "D2:J2", {letter: 15 for letter in "ABCDEFGHIJ"})
    unit = LENGTH.unit(form.system)
    parts = (
        ("slide at its lowest", "{shut_height}-{adjustment}", "0", charts.PALE, ""),
        ("adjustment", "{adjustment}", "0", charts.ORANGE, "wdUpDiag"),
        ("bolster", "0", "{bolster}", charts.GREY, ""),
        ("spacers", "0", "{spacer}", charts.ORANGE, "dkHorz"),
        ("die, closed", "0", "{die_height}", charts.BLUE, ""),
        ("slide let down", "0", _let_down(), charts.GREEN, "pct50"),
    )
    heading_row(sheet, _STACK - 1, ["Stack", *(f"{name}, {unit}" for name, *_ in parts)])
    names = form.names()
    series = []
    for number, (name, press, die, colour, pattern) in enumerate(parts):
        letter = "BCDEFG"[number]
        for row, formula in ((_STACK, press), (_STACK + 1, die)):
            _figure(sheet, f"{letter}{row}", formula.format_map(names), form.system)
        series.append(Bar(_area(f"{letter}{_STACK}", f"{letter}{_STACK + 1}"), name, colour, pattern))
    for row, words in ((_STACK, "press, stroke down"), (_STACK + 1, "die on the bolster")):
        styling.write(sheet, f"A{row}", words)
    words = _area(f"A{_STACK}", f"A{_STACK + 1}")
    return charts.bars(
        series, words, "Closed height, to scale", "", f"height above the bed, {unit}", (10.6, 13), stacked=True
    )


def _let_down() -> str:
    return "MAX({shut_height}-{bolster}-{spacer}-{die_height},0)"


def draw_plan(sheet: Worksheet, form: Form, stations: int) -> ScatterChart:
    """Write bed, slide, die, stations and load centre seen from above, scaled, and return them as a drawing."""
    names, unit = form.names(), LENGTH.unit(form.system)
    heading_row(sheet, _SCALE - 1, (f"Widest, {unit}", f"Deepest, {unit}", f"Scale, 1/{unit}"))
    room = {
        "A": "MAX({bed_length},{slide_length},{lower_length}+2*ABS({moved_x}))",
        "B": "MAX({bed_width},{slide_width},{lower_width}+2*ABS({moved_y}))",
        "C": f"0.94/MAX(A{_SCALE},{_RATIO}*B{_SCALE})",
    }
    for letter, formula in room.items():
        sheet_cell = styling.write(sheet, f"{letter}{_SCALE}", "=" + formula.format_map(names))
        sheet_cell.number_format = "0.000000" if letter == "C" else number_format(LENGTH, "0.0", form.system)
    curves = [*_outlines(sheet, names), *_marks(sheet, names, stations, form.system)]
    last = _POINTS + stations + 5
    styling.set_page(sheet, f"A1:J{last}", "1:3", __version__, SMALL_PAPER[form.system])
    return charts.drawing(
        curves, "Die on the bed, from above, to scale", "left to right", "front to back", 13.2, _RATIO, 3.6
    )


def _outlines(sheet: Worksheet, names: dict[str, str]) -> list[Curve]:
    """Write three closed rectangles, and return them as lines."""
    outlines = (
        ("bed", "bed", "0", "0", charts.INK, "solid", 2.25),
        ("slide", "slide face", "0", "0", charts.GREY, "dash", 1.5),
        ("lower", "lower die", "{moved_x}", "{moved_y}", charts.BLUE, "solid", 2.25),
    )
    headings = [f"{axis}, {name}" for _, name, *_ in outlines for axis in "xy"]
    heading_row(sheet, _OUTLINES - 1, headings)
    curves = []
    for number, (key, name, x, y, colour, dash, width) in enumerate(outlines):
        letters = "ABCDEF"[2 * number : 2 * number + 2]
        for corner, (right, back) in enumerate(((1, 1), (-1, 1), (-1, -1), (1, -1), (1, 1))):
            row = _OUTLINES + corner
            places = (_x(f"{x}+{right}*{{{key}_length}}/2"), _y(f"{y}+{back}*{{{key}_width}}/2"))
            for letter, formula in zip(letters, places):
                _scaled(sheet, f"{letter}{row}", formula.format_map(names))
        area = [_area(f"{letter}{_OUTLINES}", f"{letter}{_OUTLINES + 4}") for letter in letters]
        curves.append(Curve(area[0], area[1], name, colour, width, dash))
    return curves


def _marks(sheet: Worksheet, names: dict[str, str], stations: int, system: str) -> list[Curve]:
    """Write the places of the stations, of the load centre and of the middle of the press."""
    unit = LENGTH.unit(system)
    heading_row(sheet, _POINTS - 1, ("Place", "x", "y"))
    centre, middle = _POINTS + stations, _POINTS + stations + 1
    for number in range(stations):
        row = _POINTS + number
        used = f"{{force_{number + 1}}}>0"  # one without force lies under the strongest, and is not seen
        strongest = "INDEX({{all_{axis}}},MATCH(MAX({{all_force}}),{{all_force}},0))"
        places = [
            f"IF({used},{{{axis}_{number + 1}}},{strongest.format(axis=axis)})+{{moved_{axis}}}".format_map(names)
            for axis in "xy"
        ]
        _place(sheet, row, f"={names[f'station_{number + 1}']}", *places)
    form = number_format(LENGTH, "0.0", system)
    words = '"load centre: "'
    for axis, less, more in (("x", "left", "right"), ("y", "front", "back")):
        place = f"{{centre_{axis}}}+{{moved_{axis}}}"
        words += f'&TEXT(ABS({place}),"{form}")&" {unit} "&IF({place}<0,"{less} ","{more} ")'
    moved = [f"{{centre_{axis}}}+{{moved_{axis}}}".format_map(names) for axis in "xy"]
    _place(sheet, centre, "=" + words.format_map(names), *moved)
    _place(sheet, middle, "middle of the press", "0", "0")
    return [
        Curve(*_points(_POINTS, centre - 1), "stations", charts.BLUE, marker="circle", size=6, line=False),
        Curve(*_points(middle, middle), "middle of the press", charts.INK, marker="x", size=9, line=False),
        Curve(
            *_points(centre, centre),
            f"'{DRAWING}'!$A${centre}",
            charts.ORANGE,
            marker="diamond",
            size=10,
            line=False,
        ),
    ]


def _points(first: int, last: int) -> tuple[str, str]:
    return _area(f"B{first}", f"B{last}"), _area(f"C{first}", f"C{last}")


def _place(sheet: Worksheet, row: int, words: str, x: str, y: str) -> None:
    styling.write(sheet, f"A{row}", words)
    _scaled(sheet, f"B{row}", _x(x))
    _scaled(sheet, f"C{row}", _y(y))


def _x(place: str) -> str:
    return f"0.5+$C${_SCALE}*({place})"


def _y(place: str) -> str:
    return f"0.5/{_RATIO}+$C${_SCALE}*({place})"


def _scaled(sheet: Worksheet, cell: str, formula: str) -> None:
    styling.write(sheet, cell, f"={formula}", number_format="0.0000")


def _figure(sheet: Worksheet, cell: str, formula: str, system: str) -> None:
    styling.write(sheet, cell, f"={formula}", number_format=number_format(LENGTH, "0.0", system))


def _area(first: str, last: str) -> str:
    """Return a range of this sheet with absolute addresses."""
    return f"'{DRAWING}'!" + ":".join(f"${cell[0]}${cell[1:]}" for cell in (first, last))
