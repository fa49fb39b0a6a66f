"""The template press_capacity: what a die demands over the height of the slide, and what three presses give."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.charts import Curve
from pressfuncs.build.templates.columns import unless_blank
from pressfuncs.build.templates.finish import finished
from pressfuncs.build.templates.form import (
    ABOVE_0,
    AT_MOST_1,
    FROM_0,
    Form,
    Line,
    found,
    given,
    heading_row,
    start,
)
from pressfuncs.build.templates.help_sheet import add_help
from pressfuncs.build.templates.press_columns import DRIVES, FRAMES, HYDRAULIC, TOP, capacity
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER, number_format, with_units
from pressfuncs.quantities import COUNT, ENERGY, FORCE, LENGTH, PRESSURE, RATIO, STRESS, STROKE_RATE

NAME = "press_capacity"
_SHEET, _CURVES = "Capacity", "Curves"
_PRESSES, _POINTS, _STAGES, _FIRST = 3, 40, 3, 6
_EDGES = 2 * _STAGES
_WIDTHS = {"A": 34, "B": 10, **{letter: 17 for letter in "CDE"}, "F": 3, **{letter: 11 for letter in "GHIJKLMN"}}
_FORCE_MARGIN, _ENERGY_MARGIN = '+#,##0.0;-#,##0.0" !";0.0', '+#,##0;-#,##0" !";0'
_GUIDE = (
    "Sheet Capacity: inputs are boxed by a broken line and marked input. The chart shows how the force that each "
    "press may give changes with the height of the slide above the bottom of its stroke, and what the die demands "
    "there.",
    "A press will do where its line lies above the line of the die at every height. The lines of the presses are "
    "their capacities times their load limits. The rated force of a mechanical press holds only near the bottom.",
    "The demand of the die has three parts that may overlap: cutting, forming, and springs, pads and slugs that "
    "press down to the bottom. Write 0 where there is none: with a blank the answer is not known.",
    "The load limit is the maker's own where given, else 0.8 for straight sides and columns, 0.6 for C-frames.",
    "Force and energy are compared here, nothing else: closed height, bed, off-centre load and snap-through are "
    "other checks.",
    "A press column may stay blank: clear its drive. Its curve is then not drawn.",
    "Sheet Curves holds the points of the chart. The die and the presses in this file are invented.",
)


def build(system: str = METRIC) -> bytes:
    """Capacity of up to three presses over slide height against the demand of one die, as a chart."""
    workbook = Workbook()
    workbook.properties.title = "Press capacity over slide height, invented example"
    workbook.properties.creator = "pressfuncs"
    sheet = workbook.active
    sheet.title = _SHEET
    start(sheet, "Press capacity over slide height (invented example)", "C2:N2", _WIDTHS)
    form = Form(sheet, system, 4, _PRESSES)
    form.section("Die", _die())
    form.section("Work of the die", _work(), _STAGES, ("cutting", "forming", "springs, pads"))
    form.section("Presses", _presses(), _PRESSES)
    form.section("Result", _results(), _PRESSES, "press")
    _mark(sheet, form)
    _curves(workbook.create_sheet(_CURVES), form)
    _chart(sheet, form)
    styling.set_page(sheet, f"A1:N{form.row}", "1:2", __version__, SMALL_PAPER[system])
    sheet.page_setup.fitToHeight = 1
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _die() -> list[Line]:
    return [
        given("die", "Die", None, "shell, blank and draw", "@", height=30),
        given("cut_length", "Cut length", LENGTH, (471.2, 18.55), "0.0", between=ABOVE_0),
        given("thickness", "Sheet thickness", LENGTH, (1.5, 0.059), "0.00", between=ABOVE_0),
        given("shear_strength", "Shear strength", STRESS, (280, 40600), "0", between=ABOVE_0),
        given(
            "dull",
            "Edge allowance",
            RATIO,
            0.3,
            "0.00",
            unit="share",
            between=AT_MOST_1,
            remark="worn edges raise the cut",
        ),
        given("penetration", "Penetration", RATIO, 0.5, "0.00", unit="share", between=AT_MOST_1),
        given(
            "cut_begins",
            "Cutting begins above bottom",
            LENGTH,
            (46, 1.81),
            "0.0",
            between=FROM_0,
            remark="thickness, and how far the edge goes in",
        ),
        given("stripping", "Stripping, of the cut", RATIO, 0.1, "0.00", unit="share", between=AT_MOST_1),
        given(
            "ejection",
            "Ejection of a slug, of the cut",
            RATIO,
            0,
            "0.00",
            unit="share",
            between=AT_MOST_1,
            remark="pushed through the die; or 0",
        ),
        given("slugs", "Slugs in the die", COUNT, 0, "0", between=FROM_0, whole=True),
        given(
            "forming",
            "Forming force",
            FORCE,
            (143, 16),
            "#,##0.0",
            between=FROM_0,
            remark="drawing, bending, coining; or 0",
        ),
        given("forming_begins", "Forming begins above bottom", LENGTH, (43, 1.69), "0.0", between=FROM_0),
        given("forming_ends", "Forming ends above bottom", LENGTH, (0, 0), "0.0", between=FROM_0),
        given("pads", "Pads and cushion", FORCE, (30, 3.4), "#,##0.0", between=FROM_0, remark="or 0"),
        given(
            "pads_begin",
            "Springs and pads begin above bottom",
            LENGTH,
            (47, 1.85),
            "0.0",
            between=FROM_0,
            remark="stripper spring included",
        ),
        given("rate", "Stroke rate", STROKE_RATE, 35, "0", between=ABOVE_0),
    ]


def _work() -> list[Line]:
    cutting = "PF_DULL_EDGE_FORCE(PF_SHEARING_FORCE({cut_length},{thickness},{shear_strength}),{dull})"
    pushed = "IF({ejection}*{slugs}=0,0,PF_EJECTION_FORCE({force_1},{ejection},{slugs}))"
    springs = f"PF_STRIPPING_FORCE({{force_1}},{{stripping}})+{pushed}+{{pads}}"
    return [
        found("force", "Force", [cutting, "{forming}", springs], FORCE, "#,##0.0"),
        found(
            "begins", "Begins above bottom", ["{cut_begins}", "{forming_begins}", "{pads_begin}"], LENGTH, "0.0"
        ),
        found(
            "ends",
            "Ends above bottom",
            ["{cut_begins}-{penetration}*{thickness}", "{forming_ends}", "0"],
            LENGTH,
            "0.0",
        ),
        found(
            "demand",
            "All that acts where it begins",
            "SUMPRODUCT(({all_begins}>={begins})*({all_ends}<={begins})*{all_force})",
            FORCE,
            "#,##0.0",
            strong=True,
        ),
        found(
            "energy",
            "Energy of the stroke",
            [
                "PF_CUTTING_ENERGY({force},{thickness},{penetration})",
                "IF({force}*({begins}-{ends})>0,PF_DRAWING_ENERGY({force},{begins}-{ends},1,0),0)",
                "IF({force}*{begins}>0,PF_DRAWING_ENERGY({force},{begins},1,0),0)",
            ],
            ENERGY,
            "#,##0",
        ),
    ]


_OF = {
    "Drive": "{drive}",
    "Rated force": "{plate}",
    "Stroke": "{stroke}",
    "Rated height": "{rated}",
    "Rod": "{rod}",
    "Bore": "{bore}",
    "Pressure": "{pressure}",
    "Cylinders": "{cylinders}",
    "Efficiency": "{efficiency}",
}
"""Column of the press table -> the line that holds it here."""


def _presses() -> list[Line]:
    return [
        given("press", "Press", None, ["GF-40", "GF-110", "HY-50"], "@"),
        given("drive", "Drive", None, [TOP, TOP, HYDRAULIC], "@", choices=DRIVES),
        given("frame", "Frame", None, ["C-frame", "C-frame", "column"], "@", choices=FRAMES),
        given("own_limit", "Load limit", RATIO, [None, 0.7, None], "0.00", unit="share", between=AT_MOST_1),
        given("plate", "Rated force", FORCE, ([400, 1100, 500], [45, 125, 55]), "#,##0", between=ABOVE_0),
        given("stroke", "Stroke", LENGTH, ([90, 110, 400], [3.5, 4.3, 16]), "0.0", between=ABOVE_0),
        given("lowest", "Lowest rate", STROKE_RATE, [40, 30, 1], "0", between=ABOVE_0),
        given("highest", "Highest rate", STROKE_RATE, [90, 45, 12], "0", between=ABOVE_0),
        given("rated", "Rated height", LENGTH, ([3.2, 5, None], [0.125, 0.2, None]), "0.00", between=FROM_0),
        given("rod", "Rod", LENGTH, ([400, 480, None], [16, 19, None]), "0.0", between=ABOVE_0),
        given("bore", "Bore", LENGTH, ([None, None, 160], [None, None, 6.25]), "0.0", between=ABOVE_0),
        given("pressure", "Pressure", PRESSURE, ([None, None, 250], [None, None, 3600]), "0", between=ABOVE_0),
        given("cylinders", "Cylinders", None, [None, None, 1], "0", between=(1.0, 12.0), whole=True),
        given("efficiency", "Efficiency", RATIO, [None, None, 0.92], "0.00", unit="share", between=AT_MOST_1),
        given(
            "flywheel",
            "Flywheel energy",
            ENERGY,
            ([12000, 60000, None], [9000, 44000, None]),
            "#,##0",
            between=ABOVE_0,
        ),
        given("slowdown", "Slowdown", RATIO, [0.15, 0.2, None], "0.00", unit="share", between=AT_MOST_1),
    ]


def _capacity(height: str, unknown: str = '""') -> str:
    """Return the formula of a press's capacity at a height: 0 where its slide never comes."""
    return f"IF({height}>{{stroke}},0,{capacity(_OF.__getitem__, height, unknown)})"


def _results() -> list[Line]:
    capacities = [
        found(f"at_{stage}", label, f'IF({{drive}}="","",{_capacity(f"{{begins_{stage}}}")})', FORCE, "#,##0.0")
        for stage, label in enumerate(
            ("Capacity where cutting begins", "Capacity where forming begins", "Capacity where springs begin"),
            start=1,
        )
    ]
    at = [f"{{at_{stage}}}" for stage in range(1, _STAGES + 1)]
    margins = ",".join(
        f"IF({{at_{stage}}}>0,PF_FORCE_MARGIN({{demand_{stage}}},{{at_{stage}}},{{limit}}),-{{demand_{stage}}})"
        for stage in range(1, _STAGES + 1)
    )
    margin = unless_blank(at, f"MIN({margins})")
    slower = "IF({lowest}>={highest},1,(MIN({rate},{highest})/{highest})^2)"
    usable = unless_blank(
        ["{flywheel}", "{slowdown}", "{lowest}", "{highest}"],
        f"PF_USABLE_ENERGY({{flywheel}},{{slowdown}})*{slower}",
    )
    energy_left = unless_blank(["{usable}"], "PF_ENERGY_MARGIN(SUM({all_energy}),{usable})")
    figures = "COUNT({cut_length}:{rate})<ROWS({cut_length}:{rate})"  # a figure of the die is blank
    without = f'IF({{drive}}="{HYDRAULIC}","force enough","energy not known")'
    verdict = (
        f'IF({{drive}}="","",IF(OR({figures},{{margin}}=""),"not known",IF({{margin}}<0,"NO, force",'
        f'IF({{energy_margin}}="",{without},IF({{energy_margin}}<0,"NO, energy","both enough")))))'
    )
    limit = (
        'IF({drive}="","",IF({own_limit}="",IF({frame}="",PF_LOAD_LIMIT(),PF_LOAD_LIMIT({frame})),{own_limit}))'
    )
    return [
        found("limit", "Limit used", limit, RATIO, "0.00", unit="share"),
        *capacities,
        found(
            "margin",
            "Smallest force margin",
            margin,
            FORCE,
            _FORCE_MARGIN,
            strong=True,
        ),
        found("usable", "Energy at this rate", usable, ENERGY, "#,##0"),
        found("energy_margin", "Energy margin", energy_left, ENERGY, _ENERGY_MARGIN, strong=True),
        found("verdict", "Force and energy", verdict, strong=True),
    ]


def _mark(sheet: Worksheet, form: Form) -> None:
    """Box and shade what fails, beside the signs and words that say it."""
    tests = {
        "margin": "AND(ISNUMBER({0}),{0}<0)",
        "energy_margin": "AND(ISNUMBER({0}),{0}<0)",
        "verdict": 'LEFT({0},2)="NO"',
    }
    for key, test in tests.items():
        styling.mark(sheet, form.area(key).rpartition("!")[2], test)


def _curves(sheet: Worksheet, form: Form) -> None:
    """Write the points of the chart: the demand as a line with corners, and each press over its own stroke."""
    start(sheet, "Points of the chart", "D2:K2", {letter: 13 for letter in "ABCDEFGHIJK"})
    length, force = LENGTH.unit(form.system), FORCE.unit(form.system)
    heading_row(
        sheet,
        _FIRST - 1,
        [
            "Point",
            f"Edge of the demand, {length}",
            f"Height, {length}",
            f"Demand, {force}",
            *(
                f"{what} of press {number}, {unit}"
                for number in range(1, _PRESSES + 1)
                for what, unit in (("Height", length), ("Force allowed", force))
            ),
        ],
    )
    styling.write(sheet, "D4", "demand of the die", styling.SMALL)
    for point in range(_POINTS):
        row = _FIRST + point
        formulas = {"A": str(point)}
        if point < 2 * _EDGES:
            formulas |= _demand(form, point, row)
        for press in range(_PRESSES):
            formulas |= _press(form, press, row)
        for letter, formula in formulas.items():
            cell = styling.write(sheet, f"{letter}{row}", with_units("=" + formula, form.system))
            kind = LENGTH if letter in "BCEGI" else FORCE
            cell.number_format = "0" if letter == "A" else number_format(kind, "0.0", form.system)
            cell.border = styling.RESULT_BOX
    last = _FIRST + _POINTS - 1
    styling.set_page(sheet, f"A1:K{last}", f"1:{_FIRST - 1}", __version__, SMALL_PAPER[form.system])
    sheet.freeze_panes = f"B{_FIRST}"


def _demand(form: Form, point: int, row: int) -> dict[str, str]:
    """Return the formulas of a corner of the demand: two at each edge, one above it and one below."""
    edge, below = divmod(point, 2)
    edges = f"{form.cell('begins', 0, sheet=True)}:{form.cell('ends', _STAGES - 1)}"
    formulas = {"B": f"LARGE({edges},{point + 1})"} if point < _EDGES else {}
    upper = edge + below - 1
    demand = "0"
    if 0 <= upper < _EDGES - 1:
        middle = f"($B${_FIRST + upper}+$B${_FIRST + upper + 1})/2"
        demand = "SUMPRODUCT(({all_begins}>{middle})*({all_ends}<{middle})*{all_force})".format_map(
            {**form.names(), "middle": middle}
        )
    return {**formulas, "C": f"$B${_FIRST + edge}", "D": demand}


def _press(form: Form, press: int, row: int) -> dict[str, str]:
    """Return the formulas of a point of a press: closer together above the rated height, where its force falls."""
    x, y = ("EF", "GH", "IJ")[press]
    names = form.names(press, _PRESSES)
    top = "MIN({stroke},2*MAX({all_begins}))"
    bend = f'IF({{drive}}="{HYDRAULIC}",0,MIN({{rated}},{top}))'
    height = f"IF($A{row}=0,0,{bend}+({top}-{bend})*(MAX($A{row}-1,0)/{_POINTS - 2})^1.5)"
    return {
        x: f'IF({{drive}}="",NA(),{height})'.format_map(names),
        y: f'IF({{drive}}="",NA(),{_capacity(f"{x}{row}", "NA()")}*{{limit}})'.format_map(names),
    }


def _chart(sheet: Worksheet, form: Form) -> None:
    def column(letter: str, last: int) -> str:
        return f"'{_CURVES}'!${letter}${_FIRST}:${letter}${_FIRST + last - 1}"

    curves = [
        Curve(column("C", 2 * _EDGES), column("D", 2 * _EDGES), f"'{_CURVES}'!$D$4", width=2.5),
    ]
    looks = (
        ("E", "F", charts.BLUE, "dash"),
        ("G", "H", charts.ORANGE, "lgDashDot"),
        ("I", "J", charts.GREEN, "sysDot"),
    )
    for press, (x, y, colour, dash) in enumerate(looks):
        name = form.cell("press", press, sheet=True)
        curves.append(Curve(column(x, _POINTS), column(y, _POINTS), name, colour, 2.25, dash))
    chart = charts.scatter(
        curves,
        "Force that the presses may give, and demand of the die",
        f"height of the slide above the bottom of the stroke, {LENGTH.unit(form.system)}",
        f"force, {FORCE.unit(form.system)}",
        (20, 15),
    )
    sheet.add_chart(chart, "G4")
