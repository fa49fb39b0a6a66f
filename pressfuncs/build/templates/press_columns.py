"""The table of presses, as two templates have it: plates and manuals, and what follows from them."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from openpyxl.utils import get_column_letter
from openpyxl.worksheet.pagebreak import Break, ColBreak
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import styling
from pressfuncs.build.templates.columns import Column, Tables, unless_blank
from pressfuncs.build.templates.examples import Row
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER
from pressfuncs.functions.hydraulic import CYLINDER_EFFICIENCY
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

PRESSES = "Presses"
FIRST_ROW = 4
"""Row of the band over each table of a register; the headings are two rows below."""
DATA_ROW = FIRST_ROW + 3
PAGES = ("Shut height", "Allowed moment", "Limit used")
"""Columns that begin a new page on paper, so that each page takes whole groups."""

HYDRAULIC, TOP, UNDER, OTHER = "hydraulic", "top drive crank", "underdrive crank", "knuckle or link"
DRIVES = f'"{TOP},{UNDER},{OTHER},{HYDRAULIC}"'
FRAMES = '"C-frame,straight side,column"'
ABOVE_0, FROM_0, AT_MOST_1 = (0.0, None), (0.0, 1e9), (0.0, 1.0)


def press_columns() -> list[Column]:
    """Return the columns of the press table."""
    return [*_press(), *_drives(), *_room(), *_limits(), *_capacity(), *_die_heights()]


def capacity(of: Callable[[str], str], height: str, unknown: str = '""') -> str:
    """Return the formula of a press's capacity at a height of the slide.

    Arguments:
        of: gives the cell of a column of the press table
        height: height above the bottom of the stroke
        unknown: what stands where it is not known
    """
    rated, stroke, drive = of("Rated force"), of("Stroke"), of("Drive")
    # Where the functions are names of the workbook, a cell that is handed on blank would count as 0.
    oil = ",".join(
        (of("Bore"), of("Pressure"), _or(of("Cylinders"), 1), _or(of("Efficiency"), CYLINDER_EFFICIENCY))
    )
    by_bore = f'IF(OR({of("Bore")}="",{of("Pressure")}=""),{rated},MIN(PF_HYDRAULIC_CAPACITY({oil}),{rated}))'
    figures = [rated, *map(of, ("Rated height", "Stroke", "Rod"))]
    crank = unless_blank(figures, f"PF_MECHANICAL_CAPACITY({','.join(figures)},{height},{_side(drive)})", unknown)
    low = unless_blank(figures[:2], f"IF({height}<={of('Rated height')},{rated},{unknown})", unknown)
    by_drive = (
        f'IF({drive}="{HYDRAULIC}",{by_bore},IF({_is_crank(drive)},{crank},IF({drive}="{OTHER}",{low},{unknown})))'
    )
    return f'IF(OR({rated}="",{stroke}="",{height}>{stroke}),{unknown},{by_drive})'


def add_press_table(sheet: Worksheet, tables: Tables, rows: Sequence[Row], paper: int) -> None:
    """Write the table of presses on its sheet, with whole groups on each page."""
    columns = tables[PRESSES]
    styling.write_title(sheet, f"{PRESSES} (invented shop)", "D2:N2")
    styling.write_table(sheet, PRESSES, FIRST_ROW, tables, rows, 20)
    sheet.freeze_panes = f"B{DATA_ROW}"
    area = f"A1:{get_column_letter(len(columns))}{DATA_ROW + len(rows) - 1}"
    styling.set_page(sheet, area, f"{FIRST_ROW}:{FIRST_ROW + 2}", __version__, paper, "A:C")
    sheet.sheet_properties.pageSetUpPr.fitToPage = False
    sheet.page_setup.scale = 65 if paper == SMALL_PAPER[METRIC] else 60  # Letter is less wide
    sheet.col_breaks = ColBreak(brk=[Break(id=number) for number in page_breaks(columns, PAGES)])


def _or(cell: str, default: float) -> str:
    return f'IF({cell}="",{default:g},{cell})'


def _is_crank(drive: str) -> str:
    return f'OR({drive}="{TOP}",{drive}="{UNDER}")'


def _side(drive: str) -> str:
    return f'IF({drive}="{TOP}","top","under")'


def page_breaks(columns: Sequence[Column], first: Sequence[str]) -> list[int]:
    """Return the numbers of the columns before those that begin a page."""
    names = [column.name for column in columns]
    return [names.index(name) for name in first]


def _press() -> list[Column]:
    press = "Press"
    return [
        Column("Press", press, 10, field="press"),
        Column(
            "Drive",
            press,
            17,
            field="drive",
            choices=DRIVES,
            note="Top drive: crank over the slide, as nearly all have it. Underdrive: crank under the bed. Not "
            "known: underdrive, which gives less. Knuckle or link: nothing is known above the rated height.",
        ),
        Column(
            "Frame",
            press,
            13,
            field="frame",
            choices=FRAMES,
            note="Gives the load limit: 0.8 for straight sides and columns, 0.6 for a C-frame or a blank.",
        ),
        Column("Rated force", press, 10, "#,##0", FORCE, field="plate_force", between=ABOVE_0),
        Column("Stroke", press, 9, "0.0", LENGTH, field="stroke", between=ABOVE_0),
        Column(
            "Lowest rate",
            press,
            11,
            "0",
            STROKE_RATE,
            field="least_strokes",
            between=ABOVE_0,
            note="As the highest rate for a press of one speed.",
        ),
        Column("Highest rate", press, 11, "0", STROKE_RATE, field="most_strokes", between=ABOVE_0),
        Column(
            "Load limit",
            press,
            10,
            "0.00",
            unit="share",
            field="load_limit",
            between=AT_MOST_1,
            note="The maker's share of the capacity that may be used. Blank: by the frame.",
        ),
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
            between=ABOVE_0,
            note="Height above the bottom of the stroke from which down the press gives its rated force. "
            "Plate or manual; never a guess.",
        ),
        Column("Rod", crank, 9, "0.0", LENGTH, field="rod", between=ABOVE_0),
        Column("Flywheel energy", crank, 10, "#,##0", ENERGY, field="flywheel_energy", between=ABOVE_0),
        Column("Slowdown", crank, 10, "0.00", unit="share", field="slowdown", between=AT_MOST_1),
        Column("Bore", oil, 9, "0.0", LENGTH, field="bore", between=ABOVE_0),
        Column("Pressure", oil, 9, "0", PRESSURE, field="pressure", between=ABOVE_0),
        Column("Cylinders", oil, 10, "0", field="cylinders", between=(1.0, 12.0), whole=True),
        Column("Efficiency", oil, 10, "0.00", unit="share", field="efficiency", between=AT_MOST_1),
    ]


def _room() -> list[Column]:
    room = "Room for the die"

    def length(
        name: str, field: str, between: tuple[float, float | None] = FROM_0, width: float = 9, note: str = ""
    ) -> Column:
        return Column(name, room, width, "0.0", LENGTH, field=field, between=between, note=note)

    return [
        length(
            "Shut height",
            "shut_height",
            ABOVE_0,
            note="From the bed (not the bolster) to the slide, stroke down, adjustment up. On a hydraulic press: "
            "with the lower stop at its highest.",
        ),
        length("Adjustment", "adjustment", width=11),
        length("Bolster", "bolster", note="0 if the shut height is given above it."),
        length("Spacer", "most_spacer", note="Most that may go in; 0 for none."),
        length("Bed length", "bed_length", ABOVE_0),
        length("Bed width", "bed_width", ABOVE_0),
        length(
            "Clamping length",
            "clamping_length",
            width=10,
            note="Room for clamps left and right of a die, each; or 0.",
        ),
        length(
            "Clamping width", "clamping_width", FROM_0, 10, note="Room for clamps in front and behind, each; or 0."
        ),
        length("Slide length", "slide_length", ABOVE_0),
        length("Slide width", "slide_width", ABOVE_0),
        length(
            "Overhang", "overhang", width=10, note="How far an upper half may stand out on each side; blank: not."
        ),
        length("Shank bore", "shank_bore", ABOVE_0),
    ]


def _limits() -> list[Column]:
    limits, cost = "Limits of the maker", "Cost"
    return [
        Column("Allowed moment", limits, 11, "#,##0", TORQUE, field="allowed_moment", between=ABOVE_0),
        Column(
            "Snap through",
            limits,
            10,
            "#,##0",
            FORCE,
            field="snap_through",
            between=ABOVE_0,
            note="Reverse load that the press takes; blank: a tenth of its capacity.",
        ),
        Column(
            "Mass limit", limits, 10, "#,##0", MASS, field="mass_limit", between=ABOVE_0, note="Press or crane."
        ),
        Column("Upper mass limit", limits, 10, "#,##0", MASS, field="upper_mass_limit", between=ABOVE_0),
        Column("Hourly rate", cost, 9, "0.00", HOURLY_RATE, field="hourly_rate", between=FROM_0),
        Column("Setup", cost, 8, "0.0", DURATION, field="press_setup", between=FROM_0),
    ]


def _this(name: str) -> str:
    return f"[@{name}]"


def _capacity() -> list[Column]:
    group, energy = "Capacity", "Energy and speed"
    usable = unless_blank(
        ["[@Flywheel energy]", "[@Slowdown]"], "PF_USABLE_ENERGY([@Flywheel energy],[@Slowdown])"
    )
    side = _side("[@Drive]")
    speed = f"PF_SLIDE_SPEED([@Stroke],[@Rod],[@Highest rate],[@Rated height],{side})"
    speed = unless_blank(["[@Stroke]", "[@Rod]", "[@Highest rate]", "[@Rated height]"], speed)
    limit = unless_blank(["[@At the bottom]"], "PF_SNAP_THROUGH_LIMIT([@At the bottom])")
    return [
        Column(
            "Limit used",
            group,
            8,
            "0.00",
            unit="share",
            formula='IF([@Load limit]="",IF([@Frame]="",PF_LOAD_LIMIT(),PF_LOAD_LIMIT([@Frame])),[@Load limit])',
        ),
        Column("At the bottom", group, 10, "#,##0", FORCE, formula=capacity(_this, "0")),
        Column("At a quarter of the stroke", group, 14, "#,##0", FORCE, formula=capacity(_this, "[@Stroke]/4")),
        Column("At half stroke", group, 10, "#,##0", FORCE, formula=capacity(_this, "[@Stroke]/2")),
        Column(
            "Reverse load limit",
            group,
            10,
            "#,##0",
            FORCE,
            formula=f'IF([@Snap through]="",{limit},[@Snap through])',
        ),
        Column("Usable energy", energy, 10, "#,##0", ENERGY, formula=usable),
        Column(
            "Speed at rated height", energy, 14, "0.0", SPEED, formula=f'IF({_is_crank("[@Drive]")},{speed},"")'
        ),
    ]


def _die_heights() -> list[Column]:
    space = "Die heights"
    shut, bolster, adjustment, stroke = map(_this, ("Shut height", "Bolster", "Adjustment", "Stroke"))
    highest = unless_blank([shut, bolster], f"{shut}-{bolster}")
    lowest = unless_blank([shut, bolster, adjustment], f"{shut}-{bolster}-{adjustment}")
    opening = unless_blank([shut, stroke, bolster], f"PF_OPENING_AT_TOP({shut},{stroke},{bolster},0,0)")
    return [
        Column("Highest die", space, 9, "0.0", LENGTH, formula=highest),
        Column("Lowest die, no spacer", space, 10, "0.0", LENGTH, formula=lowest),
        Column("Opening at the top", space, 10, "0.0", LENGTH, formula=opening),
    ]
