"""The template press_capacity: what a die demands over the height of the slide, and what three presses give."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.worksheet.worksheet import Worksheet

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.charts import Curve
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
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER, number_format, with_units
from pressfuncs.quantities import ENERGY, FORCE, LENGTH, PRESSURE, RATIO, STRESS

NAME = "press_capacity"
_SHEET, _CURVES = "Capacity", "Curves"
_PRESSES, _POINTS, _STAGES, _FIRST = 3, 40, 3, 6
_EDGES = 2 * _STAGES
_WIDTHS = {"A": 34, "B": 10, "C": 14, "D": 14, "E": 14, "F": 3, **{letter: 11 for letter in "GHIJKLMN"}}
_FORCE_MARGIN, _ENERGY_MARGIN = '+#,##0.0;-#,##0.0" !";0.0', '+#,##0;-#,##0" !";0'
_GUIDE = (
    "Sheet Capacity: inputs are boxed by a broken line and marked input. The chart shows how the capacity of each "
    "press changes with the height of the slide above the bottom of its stroke, and what the die demands there.",
    "A press will do where its line lies above the broken line of the capacity needed (demand over load limit) at "
    "every height. The rated force of a mechanical press holds only near the bottom of the stroke.",
    "The demand of the die has three parts that may overlap: cutting, forming, and springs or pads that stay "
    "pressed down to the bottom. Leave a force of forming or pads at 0 where there is none.",
    "Force and energy are compared here, nothing else: closed height, bed, off-centre load and snap-through are "
    "other checks.",
    "A press column may stay blank: clear its kind. Its curve is then not drawn.",
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
        given("cut_length", "Cut length", LENGTH, (345, 13.55), "0.0", between=ABOVE_0),
        given("thickness", "Sheet thickness", LENGTH, (1.5, 0.059), "0.00", between=ABOVE_0),
        given("shear_strength", "Shear strength", STRESS, (280, 40600), "0", between=ABOVE_0),
        given(
            *("allowance", "Edge allowance", RATIO, 0.3, "0.00"),
            unit="share",
            between=(0.0, 1.0),
            remark="for worn edges; 0.15 to 0.3 is usual",
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
        given(
            "limit",
            "Load limit",
            RATIO,
            0.6,
            "0.00",
            unit="share",
            between=AT_MOST_1,
            remark="once: C-frame 0.6, closed frame 0.8",
        ),
    ]


def _work() -> list[Line]:
    cutting = "PF_DULL_EDGE_FORCE(PF_SHEARING_FORCE({cut_length},{thickness},{shear_strength}),{allowance})"
    springs = "PF_STRIPPING_FORCE({cutting},{stripping})+{pads}"
    return [
        found("force", "Force", [cutting, "{forming}", springs.replace("{cutting}", cutting)], FORCE, "#,##0.0"),
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
        ),
        found(
            "needed",
            "Capacity needed there",
            "PF_REQUIRED_CAPACITY({demand},{limit})",
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


def _presses() -> list[Line]:
    return [
        given("press", "Press", None, ["GF-40", "GF-110", "HY-50"], "@"),
        given(
            "kind",
            "Kind",
            None,
            ["gap frame", "gap frame", "hydraulic"],
            "@",
            choices='"gap frame,straight side,hydraulic"',
            remark="",
        ),
        given("plate", "Force on the plate", FORCE, ([400, 1100, 500], [45, 125, 55]), "#,##0", between=ABOVE_0),
        given("stroke", "Stroke", LENGTH, ([90, 110, 400], [3.5, 4.3, 16]), "0.0", between=ABOVE_0),
        given("rated", "Rated height", LENGTH, ([3.2, 5, None], [0.125, 0.2, None]), "0.00", between=FROM_0),
        given("rod", "Rod", LENGTH, ([400, 480, None], [16, 19, None]), "0.0", between=ABOVE_0),
        given(
            "bore", "Bore of a cylinder", LENGTH, ([None, None, 160], [None, None, 6.25]), "0.0", between=ABOVE_0
        ),
        given(
            "pressure",
            "Pressure at the cylinder",
            PRESSURE,
            ([None, None, 250], [None, None, 3600]),
            "0",
            between=ABOVE_0,
        ),
        given("cylinders", "Cylinders", None, [None, None, 1], "0", between=(1.0, 12.0), whole=True),
        given("efficiency", "Efficiency", RATIO, [None, None, 0.92], "0.00", unit="share", between=AT_MOST_1),
        given(
            "flywheel",
            "Flywheel energy",
            ENERGY,
            ([12000, 40000, None], [9000, 30000, None]),
            "#,##0",
            between=ABOVE_0,
        ),
        given("slowdown", "Slow-down allowed", RATIO, [0.15, 0.2, None], "0.00", unit="share", between=AT_MOST_1),
    ]


def _capacity(height: str) -> str:
    """Return the formula of a press's capacity at a height; 0 where its slide never comes."""
    oil = "PF_HYDRAULIC_CAPACITY({bore},{pressure},{cylinders},{efficiency})"
    crank = f"PF_MECHANICAL_CAPACITY({{plate}},{{rated}},{{stroke}},{{rod}},{height})"
    return f'IF({height}>{{stroke}},0,IF({{kind}}="hydraulic",MIN({oil},{{plate}}),{crank}))'


def _results() -> list[Line]:
    capacities = [
        found(f"at_{stage}", label, f'IF({{kind}}="","",{_capacity(f"{{begins_{stage}}}")})', FORCE, "#,##0.0")
        for stage, label in enumerate(
            ("Capacity where cutting begins", "Capacity where forming begins", "Capacity where springs begin"),
            start=1,
        )
    ]
    margin = ",".join(
        f"IF({{at_{stage}}}>0,PF_FORCE_MARGIN({{demand_{stage}}},{{at_{stage}}},{{limit}}),-{{demand_{stage}}})"
        for stage in range(1, _STAGES + 1)
    )
    usable = 'IF({kind}="","",IF({flywheel}="","",PF_USABLE_ENERGY({flywheel},{slowdown})))'
    energy_left = 'IF({usable}="","",PF_ENERGY_MARGIN(SUM({all_energy}),{usable}))'
    verdict = (
        'IF({kind}="","",IF({margin}<0,"NO, force",IF({energy_margin}="","force enough",'
        'IF({energy_margin}<0,"NO, energy","both enough"))))'
    )
    return [
        *capacities,
        found(
            "margin",
            "Smallest force margin",
            f'IF({{kind}}="","",MIN({margin}))',
            FORCE,
            _FORCE_MARGIN,
            strong=True,
        ),
        found("usable", "Usable energy of the flywheel", usable, ENERGY, "#,##0"),
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
    start(sheet, "Points of the chart", "D2:L2", {letter: 13 for letter in "ABCDEFGHIJKL"})
    length, force = LENGTH.unit(form.system), FORCE.unit(form.system)
    heading_row(
        sheet,
        _FIRST - 1,
        [
            "Point",
            f"Edge of the demand, {length}",
            f"Height, {length}",
            f"Demand, {force}",
            f"Capacity needed, {force}",
            *(
                f"{what} of press {number}, {unit}"
                for number in range(1, _PRESSES + 1)
                for what, unit in (("Height", length), ("Capacity", force))
            ),
        ],
    )
    for place, words in (("D4", "demand of the die"), ("E4", "capacity needed (demand / load limit)")):
        styling.write(sheet, place, words, styling.SMALL)
    for point in range(_POINTS):
        row = _FIRST + point
        formulas = {"A": str(point)}
        if point < 2 * _EDGES:
            formulas |= _demand(form, point, row)
        for press in range(_PRESSES):
            formulas |= _press(form, press, row)
        for letter, formula in formulas.items():
            cell = styling.write(sheet, f"{letter}{row}", with_units("=" + formula, form.system))
            kind = LENGTH if letter in "BCFHJ" else FORCE
            cell.number_format = "0" if letter == "A" else number_format(kind, "0.0", form.system)
            cell.border = styling.RESULT_BOX
    last = _FIRST + _POINTS - 1
    styling.set_page(sheet, f"A1:L{last}", f"1:{_FIRST - 1}", __version__, SMALL_PAPER[form.system])
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
    needed = f"PF_REQUIRED_CAPACITY(D{row},{form.cell('limit', sheet=True)})"
    return {**formulas, "C": f"$B${_FIRST + edge}", "D": demand, "E": needed}


def _press(form: Form, press: int, row: int) -> dict[str, str]:
    """Return the formulas of a point of a press: closer together above the rated height, where its force falls."""
    x, y = ("FG", "HI", "JK")[press]
    names = form.names(press, _PRESSES)
    top = "MIN({stroke},2*MAX({all_begins}))"
    bend = f'IF({{kind}}="hydraulic",0,MIN({{rated}},{top}))'
    height = f"IF($A{row}=0,0,{bend}+({top}-{bend})*(MAX($A{row}-1,0)/{_POINTS - 2})^1.5)"
    return {
        x: f'IF({{kind}}="",NA(),{height})'.format_map(names),
        y: f'IF({{kind}}="",NA(),{_capacity(f"{x}{row}")})'.format_map(names),
    }


def _chart(sheet: Worksheet, form: Form) -> None:
    def column(letter: str, last: int) -> str:
        return f"'{_CURVES}'!${letter}${_FIRST}:${letter}${_FIRST + last - 1}"

    curves = [
        Curve(column("C", 2 * _EDGES), column("D", 2 * _EDGES), f"'{_CURVES}'!$D$4", width=2.5),
        Curve(column("C", 2 * _EDGES), column("E", 2 * _EDGES), f"'{_CURVES}'!$E$4", width=1.75, dash="dash"),
    ]
    looks = (
        ("F", "G", charts.BLUE, "solid"),
        ("H", "I", charts.ORANGE, "lgDashDot"),
        ("J", "K", charts.GREEN, "sysDot"),
    )
    for press, (x, y, colour, dash) in enumerate(looks):
        name = form.cell("press", press, sheet=True)
        curves.append(Curve(column(x, _POINTS), column(y, _POINTS), name, colour, 2.25, dash))
    chart = charts.scatter(
        curves,
        "Capacity of the presses and demand of the die",
        f"height of the slide above the bottom of the stroke, {LENGTH.unit(form.system)}",
        f"force, {FORCE.unit(form.system)}",
        (20, 15),
    )
    sheet.add_chart(chart, "G4")
