"""The template die_setup: the sheet by which a die is mounted, with closed height and load centre to scale."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import styling
from pressfuncs.build.templates.die_setup_drawing import DRAWING, draw_plan, draw_stack
from pressfuncs.build.templates.finish import finished
from pressfuncs.build.templates.form import ABOVE_0, FROM_0, Form, Line, found, given, start
from pressfuncs.build.templates.help_sheet import add_help
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER
from pressfuncs.functions._checks import CHECKS
from pressfuncs.quantities import FORCE, LENGTH, TORQUE

NAME = "die_setup"
_SHEET = "Setup"
_WIDTHS = {"A": 36, "B": 10, **{letter: 13.5 for letter in "CDEFGH"}}
_STATIONS = 6
_ANY = (-1e6, 1e6)
_MARGIN, _MOMENT_MARGIN = '+0.0;-0.0" !";0.0', '+#,##0;-#,##0" !";0'
_MARGINS = {
    "closed_height": "{height_margin}",
    "adjustment": "{adjustment_margin}",
    "opening": "{clearance}",
    "bed": "{bed_margin}",
    "slide_face": "{slide_margin}",
    "off_centre": "MIN({off_x},{off_y})",
}
"""The checks that this sheet makes; the verdict names the others."""
_GUIDE = (
    "Sheet Setup: inputs are boxed by a broken line and marked input. It can be printed and go with the die.",
    "The press shut height is from the bed to the slide, stroke down, adjustment up. The bolster and the spacers "
    "are deducted from it. Die height is the shut height of the die.",
    "Places to the right and to the back are positive, to the left and to the front negative, as seen from the "
    "front. Stations are measured from the middle of the die, and the die from the middle of the press.",
    "A station that is not used has force 0, or stays blank altogether.",
    "Bed and slide margins are what is left of both sides together, clamps and the place of the die deducted.",
    "A margin less than 0 is marked with ! and the verdict says not suitable. It names what was not checked: "
    "force, energy and the rest are checked in the template die_register, and by pressfuncs assign.",
    "What was checked elsewhere may be named, with commas between: "
    f"{', '.join(check.name for check in CHECKS if check.name not in _MARGINS)}. The verdict repeats it.",
    "Both drawings are to scale; sheet Drawing holds their points. Die and press in this file are invented.",
    "Lock out the press before anybody reaches into the die space.",
)


def build(system: str = METRIC) -> bytes:
    """Setup sheet of a die in a press: closed height, spacers, adjustment and load centre, drawn to scale."""
    workbook = Workbook()
    workbook.properties.title = "Die setup, invented example"
    workbook.properties.creator = "pressfuncs"
    sheet = workbook.active
    sheet.title = _SHEET
    start(sheet, "Die setup (invented example)", "C2:H2", _WIDTHS)
    sheet.row_dimensions[2].height = 44
    form = Form(sheet, system, 4, _STATIONS)
    form.section("Die", _die())
    form.section("Press", _press())
    form.section("In the press", _place())
    form.section("Stations", _stations(), _STATIONS)
    results = form.row
    form.section("Height", _height())
    form.section("Room and load", _room())
    form.section("Verdict and signatures", _verdict())
    _mark(sheet, form)
    drawing = workbook.create_sheet(DRAWING)
    sheet.add_chart(draw_stack(drawing, form), "E5")
    sheet.add_chart(draw_plan(drawing, form, _STATIONS), f"D{results + 2}")
    styling.set_page(sheet, f"A1:H{form.row - 1}", "1:2", __version__, SMALL_PAPER[system])
    sheet.page_setup.orientation = "portrait"
    sheet.page_setup.fitToHeight = 1
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _die() -> list[Line]:
    return [
        given("die", "Die", None, "D-610", "@"),
        given("part", "Part", None, "side bracket", "@"),
        given("die_height", "Die height", LENGTH, (286, 11.25), "0.0", between=ABOVE_0),
        given("lower_length", "Lower half, left to right", LENGTH, (640, 25), "0.0", between=ABOVE_0),
        given("lower_width", "Lower half, front to back", LENGTH, (420, 16.5), "0.0", between=ABOVE_0),
        given("upper_length", "Upper half, left to right", LENGTH, (600, 23.5), "0.0", between=ABOVE_0),
        given("upper_width", "Upper half, front to back", LENGTH, (380, 15), "0.0", between=ABOVE_0),
        given("entry", "Punch entry", LENGTH, (12, 0.5), "0.0", between=FROM_0),
        given("part_height", "Height of the part", LENGTH, (38, 1.5), "0.0", between=FROM_0),
        given("lift", "Lift of strip or part", LENGTH, (15, 0.6), "0.0", between=FROM_0),
    ]


def _press() -> list[Line]:
    return [
        given("press", "Press", None, "SS-160", "@"),
        given("shut_height", "Shut height, above the bed", LENGTH, (450, 17.75), "0.0", between=ABOVE_0),
        given("adjustment", "Slide adjustment", LENGTH, (90, 3.5), "0.0", between=FROM_0),
        given("bolster", "Bolster", LENGTH, (110, 4.25), "0.0", between=FROM_0),
        given("stroke", "Stroke", LENGTH, (130, 5), "0.0", between=ABOVE_0),
        given("bed_length", "Bed, left to right", LENGTH, (1300, 51), "0.0", between=ABOVE_0),
        given("bed_width", "Bed, front to back", LENGTH, (750, 30), "0.0", between=ABOVE_0),
        given("slide_length", "Slide, left to right", LENGTH, (1200, 47), "0.0", between=ABOVE_0),
        given("slide_width", "Slide, front to back", LENGTH, (650, 26), "0.0", between=ABOVE_0),
        given("clamps", "Room for clamps at each side", LENGTH, (60, 2.5), "0.0", between=FROM_0),
        given("moment_x", "Moment allowed, left to right", TORQUE, (60000, 44000), "#,##0", between=ABOVE_0),
        given("moment_y", "Moment allowed, front to back", TORQUE, (30000, 22000), "#,##0", between=ABOVE_0),
    ]


def _place() -> list[Line]:
    return [
        given("spacer", "Spacers and parallels put in", LENGTH, (0, 0), "0.0", between=FROM_0),
        given("moved_x", "Die moved to the right", LENGTH, (0, 0), "0.0", between=_ANY),
        given("moved_y", "Die moved to the back", LENGTH, (0, 0), "0.0", between=_ANY),
    ]


def _stations() -> list[Line]:
    names = ["pilot holes", "notching", "first bend", "second bend", "cut-off", "not used"]
    forces = ([48, 165, 60, 85, 60, 0], [5.4, 18.5, 6.7, 9.5, 6.7, 0])
    along = ([-250, -150, -40, 60, 200, 0], [-9.8, -5.9, -1.6, 2.4, 7.9, 0])
    across = ([0, 40, -30, 15, 0, 0], [0, 1.6, -1.2, 0.6, 0, 0])
    return [
        given("station", "Station", None, names, "@"),
        given("force", "Force", FORCE, forces, "#,##0.0", between=FROM_0),
        given("x", "To the right", LENGTH, along, "0.0", between=_ANY),
        given("y", "To the back", LENGTH, across, "0.0", between=_ANY),
    ]


def _height() -> list[Line]:
    inside = "{die_height},{shut_height},{adjustment},{bolster},{spacer}"
    down = (
        f'IF(AND({{height_margin}}>=0,{{adjustment_margin}}>=0),PF_ADJUSTMENT_NEEDED({inside}),"does not close")'
    )
    opening = 'IF(ISNUMBER({down}),PF_OPENING_AT_TOP({shut_height},{stroke},{bolster},{spacer},{down}),"")'
    return [
        found("fit", "Closed height", f"PF_CLOSED_HEIGHT_FIT({inside})", wide=True, strong=True),
        found(
            "height_margin",
            "Height margin",
            "PF_CLOSED_HEIGHT_MARGIN({die_height},{shut_height},{bolster},{spacer})",
            LENGTH,
            _MARGIN,
        ),
        found("adjustment_margin", "Adjustment margin", f"PF_ADJUSTMENT_MARGIN({inside})", LENGTH, _MARGIN),
        found(
            "spacer_needed",
            "Least spacer needed",
            "PF_SPACER_NEEDED({die_height},{shut_height},{adjustment},{bolster})",
            LENGTH,
            "0.0",
        ),
        found("down", "Let the slide down by", down, LENGTH, "0.0", strong=True),
        found("opening", "Opening at the top", opening, LENGTH, "0.0"),
        found("tool_opening", "Opening between the tools", "PF_TOOL_OPENING({stroke},{entry})", LENGTH, "0.0"),
        found(
            "clearance",
            "Part clearance margin",
            "PF_PART_CLEARANCE_MARGIN({tool_opening},{part_height},{lift})",
            LENGTH,
            _MARGIN,
        ),
    ]


def _room() -> list[Line]:
    def margin(name: str, table: str, half: str) -> str:
        """Return the formula of a margin: a die off the middle has that much less room on both sides."""
        size = f"{{{table}_length}}-2*ABS({{moved_x}}),{{{table}_width}}-2*ABS({{moved_y}})"
        return f"{name}({size},{{{half}_length}},{{{half}_width}},{{clamps}},{{clamps}})"

    off = {
        axis: f"PF_OFF_CENTRE_MARGIN({{total}},{{centre_{axis}}},{{moment_{axis}}},-{{moved_{axis}}})"
        for axis in "xy"
    }
    return [
        found("bed_margin", "Bed margin", margin("PF_BED_MARGIN", "bed", "lower"), LENGTH, _MARGIN),
        found("slide_margin", "Slide margin", margin("PF_SLIDE_FACE_MARGIN", "slide", "upper"), LENGTH, _MARGIN),
        found("total", "Sum of the forces", "SUM({all_force})", FORCE, "#,##0.0"),
        found("centre_x", "Load centre, to the right", "PF_LOAD_CENTRE({all_force},{all_x})", LENGTH, "0.0"),
        found("centre_y", "Load centre, to the back", "PF_LOAD_CENTRE({all_force},{all_y})", LENGTH, "0.0"),
        found("shift_x", "Best place, to the right", "PF_DIE_SHIFT({centre_x})", LENGTH, "0.0", strong=True),
        found("shift_y", "Best place, to the back", "PF_DIE_SHIFT({centre_y})", LENGTH, "0.0", strong=True),
        found("off_x", "Moment margin, left to right", off["x"], TORQUE, _MOMENT_MARGIN),
        found("off_y", "Moment margin, front to back", off["y"], TORQUE, _MOMENT_MARGIN),
    ]


def _verdict() -> list[Line]:
    margins = ",".join(_MARGINS.get(check.name, "") for check in CHECKS)
    return [
        given("declared", "Checked elsewhere, by name", None, None, "@", wide=True),
        found(
            "verdict", "Verdict", f"PF_PRESS_VERDICT({margins},{{declared}})", height=46, wide=True, strong=True
        ),
        given("set_by", "Set by, date", None, None, "@", height=24, wide=True),
        given("checked_by", "Checked by, date", None, None, "@", height=24, wide=True),
    ]


def _mark(sheet: Worksheet, form: Form) -> None:
    """Box and shade what fails, beside the signs and words that say it."""
    for key in ("height_margin", "adjustment_margin", "clearance", "bed_margin", "slide_margin", "off_x", "off_y"):
        styling.mark(sheet, form.cell(key), "AND(ISNUMBER({0}),{0}<0)")
    for key, word in (("fit", "too"), ("down", "doe"), ("verdict", "not suitable")):
        styling.mark(sheet, form.cell(key), f'LEFT({{0}},{len(word)})="{word}"')
