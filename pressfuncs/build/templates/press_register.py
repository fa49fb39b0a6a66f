"""The template press_register: the presses of an invented shop, what their plates say and what follows from it."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break, ColBreak
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.charts import Bar
from pressfuncs.build.templates.columns import Column, in_system
from pressfuncs.build.templates.die_register_presses import CRANK_SIDE, DRIVES, FRAMES, IS_HYDRAULIC, LIMIT_NOTE
from pressfuncs.build.templates.examples import read_rows
from pressfuncs.build.templates.finish import finished
from pressfuncs.build.templates.form import start
from pressfuncs.build.templates.help_sheet import add_help
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER
from pressfuncs.quantities import (
    DURATION,
    ENERGY,
    FORCE,
    HOURLY_RATE,
    LENGTH,
    MASS,
    PRESSURE,
    SPEED,
    STROKE_RATE,
    TORQUE,
)

NAME = "press_register"
_SHEET, _TABLE, _CHART = "Presses", "Presses", "Chart"
_FIRST_ROW = 4
_DATA_ROW = _FIRST_ROW + 3
_ABOVE_0, _FROM_0, _AT_MOST_1 = (0.0, None), (0.0, 1e9), (0.0, 1.0)
_GUIDE = (
    "Sheet Presses: one row a press, from its plate and manual. Columns marked input, with cells boxed by a "
    "broken line, are yours to fill; those marked computed follow. A new row below the last takes them over.",
    "A press with a crank has a rated height and a rod; a hydraulic one has bore, pressure and cylinders. Leave "
    "the others blank.",
    "The capacity of a mechanical press is given at three heights: its rated force holds only near the bottom.",
    "The reverse load limit is the maker's figure; where it is blank, a tenth of the rated force.",
    "Highest and lowest die: between the slide fully up and fully down in its adjustment, bolster deducted.",
    "pressfuncs assign reads this sheet as its press register.",
    "Sheet Chart compares the capacities. All presses in this file are invented.",
)


def build(system: str = METRIC) -> bytes:
    """Presses of a shop: plates and manuals, and the capacity, energy and room that follow from them."""
    more = {row["press"]: row for row in read_rows("presses_more", system)}
    rows = [{**row, **more[row["press"]]} for row in read_rows("presses", system)]
    workbook = Workbook()
    workbook.properties.title = "Press register of an invented shop"
    workbook.properties.creator = "pressfuncs"
    sheet = workbook.active
    sheet.title = _SHEET
    styling.write_title(sheet, "Press register (invented)", "D2:M2")
    columns = in_system(_columns(), system)
    styling.write_table(sheet, _TABLE, _FIRST_ROW, {_TABLE: columns}, rows, 20)
    sheet.freeze_panes = f"B{_DATA_ROW}"
    last = _DATA_ROW + len(rows) - 1
    area = f"A1:{get_column_letter(len(columns))}{last}"
    styling.set_page(sheet, area, f"{_FIRST_ROW}:{_FIRST_ROW + 2}", __version__, SMALL_PAPER[system], "A:C")
    sheet.sheet_properties.pageSetUpPr.fitToPage = False
    sheet.page_setup.scale = 65
    names = [column.name for column in columns]
    sheet.col_breaks = ColBreak(
        brk=[Break(id=names.index(name)) for name in ("Shut height", "Allowed moment", "At the bottom")]
    )
    _add_chart(workbook.create_sheet(_CHART), columns, last, system)
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _columns() -> list[Column]:
    return [*_press(), *_drives(), *_room(), *_limits(), *_capacity(), *_die_space()]


def _press() -> list[Column]:
    press = "Press"
    return [
        Column("Press", press, 12, field="press"),
        Column("Drive", press, 17, field="drive", choices=DRIVES),
        Column("Frame", press, 13, field="frame", choices=FRAMES),
        Column(
            "Load limit", press, 8, "0.00", unit="share", field="load_limit", between=_AT_MOST_1, note=LIMIT_NOTE
        ),
        Column("Rated force", press, 12, "#,##0", FORCE, field="plate_force", between=_ABOVE_0),
        Column("Stroke", press, 9, "0.0", LENGTH, field="stroke", between=_ABOVE_0),
        Column("Min rate", press, 11, "0", STROKE_RATE, field="least_strokes", between=_ABOVE_0),
        Column("Max rate", press, 11, "0", STROKE_RATE, field="most_strokes", between=_ABOVE_0),
    ]


def _drives() -> list[Column]:
    crank, oil = "Mechanical presses", "Hydraulic presses"
    return [
        Column(
            "Rated height",
            crank,
            9,
            "0.00",
            LENGTH,
            field="rated_height",
            between=_ABOVE_0,
            note="Height above the bottom of the stroke from which down the press gives its rated force. "
            "Plate or manual; never a guess.",
        ),
        Column("Rod", crank, 9, "0.0", LENGTH, field="rod", between=_ABOVE_0),
        Column("Flywheel energy", crank, 10, "#,##0", ENERGY, field="flywheel_energy", between=_ABOVE_0),
        Column("Slowdown", crank, 10, "0.00", unit="share", field="slowdown", between=_AT_MOST_1),
        Column("Bore", oil, 9, "0.0", LENGTH, field="bore", between=_ABOVE_0),
        Column("Pressure", oil, 9, "0", PRESSURE, field="pressure", between=_ABOVE_0),
        Column("Cylinders", oil, 10, "0", field="cylinders", between=(1.0, 12.0), whole=True),
        Column("Efficiency", oil, 10, "0.00", unit="share", field="efficiency", between=_AT_MOST_1),
    ]


def _room() -> list[Column]:
    room = "Room for the die"
    return [
        Column(
            "Shut height",
            room,
            9,
            "0.0",
            LENGTH,
            field="shut_height",
            between=_ABOVE_0,
            note="From the bed (not the bolster) to the slide, stroke down, adjustment up. On a hydraulic press: "
            "with the lower stop at its highest.",
        ),
        Column("Adjustment", room, 11, "0.0", LENGTH, field="adjustment", between=_FROM_0),
        Column("Bolster", room, 9, "0.0", LENGTH, field="bolster", between=_FROM_0),
        Column(
            "Spacer", room, 9, "0.0", LENGTH, field="most_spacer", between=_FROM_0, note="Most that may go in."
        ),
        Column("Bed length", room, 9, "0.0", LENGTH, field="bed_length", between=_ABOVE_0),
        Column("Bed width", room, 9, "0.0", LENGTH, field="bed_width", between=_ABOVE_0),
        Column("Clamping length", room, 10, "0.0", LENGTH, field="clamping_length", between=_FROM_0),
        Column("Clamping width", room, 10, "0.0", LENGTH, field="clamping_width", between=_FROM_0),
        Column("Slide length", room, 9, "0.0", LENGTH, field="slide_length", between=_ABOVE_0),
        Column("Slide width", room, 9, "0.0", LENGTH, field="slide_width", between=_ABOVE_0),
        Column("Overhang", room, 10, "0.0", LENGTH, field="overhang", between=_FROM_0),
        Column("Shank bore", room, 9, "0.0", LENGTH, field="shank_bore", between=_ABOVE_0),
    ]


def _limits() -> list[Column]:
    limits, cost = "Limits of the maker", "Cost"
    return [
        Column("Allowed moment", limits, 11, "#,##0", TORQUE, field="allowed_moment", between=_ABOVE_0),
        Column("Snap through", limits, 10, "#,##0", FORCE, field="snap_through", between=_ABOVE_0),
        Column("Mass limit", limits, 10, "#,##0", MASS, field="mass_limit", between=_ABOVE_0),
        Column("Upper mass limit", limits, 10, "#,##0", MASS, field="upper_mass_limit", between=_ABOVE_0),
        Column("Hourly rate", cost, 9, "0.00", HOURLY_RATE, field="hourly_rate", between=_FROM_0),
        Column("Setup", cost, 8, "0.0", DURATION, field="press_setup", between=_FROM_0),
    ]


def _capacity() -> list[Column]:
    capacity, energy = "Capacity", "Energy and speed"
    oil = "PF_HYDRAULIC_CAPACITY([@Bore],[@Pressure],[@Cylinders],[@Efficiency])"
    crank = f"PF_MECHANICAL_CAPACITY([@Rated force],[@Rated height],[@Stroke],[@Rod],{{height}},{CRANK_SIDE})"
    at = f"IF({IS_HYDRAULIC.format('[@Drive]')},MIN({oil},[@Rated force]),{crank})"
    usable = "PF_USABLE_ENERGY([@Flywheel energy],[@Slowdown])"
    speed = "PF_SLIDE_SPEED([@Stroke],[@Rod],[@Max rate],[@Rated height])"
    limit = "PF_SNAP_THROUGH_LIMIT([@Rated force])"
    return [
        Column("At the bottom", capacity, 10, "#,##0", FORCE, formula=at.format(height="0")),
        Column(
            "At a quarter of the stroke", capacity, 14, "#,##0", FORCE, formula=at.format(height="[@Stroke]/4")
        ),
        Column("At half stroke", capacity, 10, "#,##0", FORCE, formula=at.format(height="[@Stroke]/2")),
        Column(
            "Reverse load limit",
            capacity,
            10,
            "#,##0",
            FORCE,
            formula=f'IF([@Snap through]="",{limit},[@Snap through])',
        ),
        Column("Usable energy", energy, 10, "#,##0", ENERGY, formula=f'IF([@Flywheel energy]="","",{usable})'),
        Column("Speed at rated height", energy, 14, "0.0", SPEED, formula=f'IF([@Rated height]="","",{speed})'),
    ]


def _die_space() -> list[Column]:
    space = "Die heights"
    lowest = "[@Shut height]-[@Bolster]-[@Adjustment]"
    opening = "PF_OPENING_AT_TOP([@Shut height],[@Stroke],[@Bolster],0,0)"
    return [
        Column("Highest die", space, 9, "0.0", LENGTH, formula="[@Shut height]-[@Bolster]"),
        Column("Lowest die, no spacer", space, 10, "0.0", LENGTH, formula=lowest),
        Column("Opening at the top", space, 10, "0.0", LENGTH, formula=opening),
    ]


def _add_chart(sheet: Worksheet, columns: list[Column], last: int, system: str) -> None:
    start(sheet, "Capacity of the presses (invented shop)", "D2:L2", {letter: 13 for letter in "ABCDEFGHIJKL"})
    letters = {column.name: get_column_letter(number) for number, column in enumerate(columns, start=1)}

    def area(name: str) -> str:
        return f"'{_SHEET}'!${letters[name]}${_DATA_ROW}:${letters[name]}${last}"

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
