"""The template strip_layout: pitch, width, utilisation and coils of a strip, with the strip drawn to scale."""

from __future__ import annotations

from openpyxl import Workbook

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.finish import finished
from pressfuncs.build.templates.form import (
    ABOVE_0,
    AT_MOST_1,
    FROM_0,
    Form,
    Line,
    found,
    given,
    looked_up,
    start,
)
from pressfuncs.build.templates.help_sheet import add_help
from pressfuncs.build.templates.strip_drawing import RATIO as WIDE
from pressfuncs.build.templates.strip_drawing import SHEET as DRAWING
from pressfuncs.build.templates.strip_drawing import STAGGERED, draw
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER
from pressfuncs.quantities import (
    AREA,
    COUNT,
    DENSITY,
    DURATION,
    FEED_SPEED,
    LENGTH,
    MASS,
    PART_RATE,
    RATIO,
    STROKE_RATE,
)

NAME = "strip_layout"
_SHEET = "Strip"
_WIDTHS = {"A": 36, "B": 10, "C": 16, "D": 13, "E": 13, "F": 3, **{letter: 11 for letter in "GHIJKLMN"}}
_GUIDE = (
    "Sheet Strip: inputs are boxed by a broken line and marked input. A blank is given by its size along and "
    "across the strip and the radius of its corners: half of both for a disc, half of the smaller for a slot.",
    "For another outline, give its size over all, and its area in the line for it; PF_OUTLINE_AREA gives the area "
    "of any outline with straight sides.",
    "Straight rows lie side by side. Staggered discs lie in the gaps of the next row, half a pitch further.",
    "The drawing is to scale in both directions. It shows at most four rows and four pitches, and sizes over all; "
    "sheet Drawing holds its points.",
    "Utilisation is of the strip between the ends of a coil; the strip to order includes ends and scrap.",
    "The part and the coil in this file are invented.",
)


def build(system: str = METRIC) -> bytes:
    """Strip layout of a blank: pitch, width, utilisation, mass and coils, with the strip drawn to scale."""
    workbook = Workbook()
    workbook.properties.title = "Strip layout, invented example"
    workbook.properties.creator = "pressfuncs"
    sheet = workbook.active
    sheet.title = _SHEET
    start(sheet, "Strip layout (invented example)", "C2:N2", _WIDTHS)
    form = Form(sheet, system, 4, 2)
    form.section("Blank and sheet", _blank())
    form.section("Layout", _layout())
    form.section("Strip", _strip())
    form.section("Coil and order", _order())
    form.section("Coils", _coils())
    curves = draw(workbook.create_sheet(DRAWING), form)
    along = "along the strip; drawn to scale, sizes in the legend"
    sheet.add_chart(charts.drawing(curves, "Strip drawn to scale", along, "across the strip", 20, WIDE), "G4")
    styling.set_page(sheet, f"A1:N{form.row}", "1:2", __version__, SMALL_PAPER[system])
    sheet.page_setup.fitToHeight = 1
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _blank() -> list[Line]:
    return [
        given("part", "Part", None, "fan hub blank", "@"),
        given("material", "Material", None, "DC01", "@", remark="a name of the material table"),
        given("thickness", "Sheet thickness", LENGTH, (1.5, 0.06), "0.00", between=ABOVE_0),
        given("along", "Blank, along the strip", LENGTH, (80, 3.125), "0.0", between=ABOVE_0),
        given("across", "Blank, across the strip", LENGTH, (80, 3.125), "0.0", between=ABOVE_0),
        given(
            "radius",
            "Radius of its corners",
            LENGTH,
            (40, 1.5625),
            "0.0",
            between=FROM_0,
            remark="half for a disc",
        ),
        given("hole", "Hole that is scrap, diameter", LENGTH, (20, 0.75), "0.0", between=FROM_0, remark="or 0"),
        given(
            "other_area",
            "Area of another outline",
            AREA,
            None,
            "#,##0",
            between=ABOVE_0,
            remark="blank: from the size",
        ),
    ]


def _layout() -> list[Line]:
    return [
        given("layout", "Layout", None, STAGGERED, "@", choices=f'"straight rows,{STAGGERED}"'),
        given("rows", "Rows across the strip", COUNT, 3, "0", between=(1.0, 12.0), whole=True),
        given(
            "rule",
            "Bridge by rule",
            None,
            "proportional",
            "@",
            choices='"proportional,stepped,own"',
            remark="1.2 t; t up to 3.2 mm; own figure",
        ),
        given("own_bridge", "Own bridge", LENGTH, None, "0.00", between=ABOVE_0, remark="only for the rule own"),
        given("side_cut", "Cut off both edges together", LENGTH, (0, 0), "0.0", between=FROM_0),
    ]


def _strip() -> list[Line]:
    outline = "{along}*{across}-(4-PI())*{radius}^2"
    staggered = f'{{layout}}="{STAGGERED}"'
    return [
        found(
            "bridge", "Bridge", 'IF({rule}="own",{own_bridge},PF_BRIDGE_WIDTH({thickness},{rule}))', LENGTH, "0.00"
        ),
        found("pitch", "Pitch", "PF_FEED_PITCH({along},{bridge})", LENGTH, "0.00", strong=True),
        found(
            "width",
            "Strip width",
            f"IF({staggered},PF_STAGGERED_STRIP_WIDTH({{along}},{{bridge}},{{bridge}},{{rows}},{{side_cut}}),"
            "PF_STRIP_WIDTH({across},{bridge},{rows},{bridge},{side_cut}))",
            LENGTH,
            "0.00",
            strong=True,
        ),
        found(
            "area",
            "Area of the blank",
            f'IF({{other_area}}="",{outline},{{other_area}})-IF({{hole}}>0,PF_ROUND_BLANK_AREA({{hole}}),0)',
            AREA,
            "#,##0",
        ),
        found(
            "utilisation",
            "Utilisation of the strip",
            "PF_STRIP_UTILISATION({area},{pitch},{width},{rows})",
            RATIO,
            "0.0%",
            strong=True,
            unit="share",
        ),
        looked_up("density", "Density of the sheet", 'PF_MATERIAL({material},"density")', DENSITY, "0.00"),
        found("net", "Net mass of a blank", "PF_BLANK_MASS({area},{thickness},{density})", MASS, "0.0000"),
        found(
            "gross",
            "Gross mass of a blank",
            "PF_GROSS_MASS({pitch},{width},{thickness},{density},{rows})",
            MASS,
            "0.0000",
        ),
        found(
            "check",
            "Check",
            f'IF(AND({staggered},OR({{along}}<>{{across}},{{radius}}<>{{along}}/2)),"discs only",'
            'IF(2*{radius}>MIN({along},{across}),"radius too large","possible"))',
            strong=True,
        ),
    ]


def _order() -> list[Line]:
    return [
        given("quantity", "Good parts wanted", COUNT, 60000, "#,##0", between=(1.0, 1e9), whole=True),
        given("scrap", "Scrap, of the parts", RATIO, 0.01, "0.000", unit="share", between=AT_MOST_1),
        given("outer", "Coil, outer diameter", LENGTH, (1300, 52), "0", between=ABOVE_0),
        given("inner", "Coil, bore", LENGTH, (508, 20), "0", between=ABOVE_0),
        given("end_loss", "Lost at the ends of a coil", LENGTH, (4000, 160), "#,##0", between=FROM_0),
        given("rate", "Stroke rate", STROKE_RATE, 45, "0", between=ABOVE_0),
        given("efficiency", "Efficiency", RATIO, 0.75, "0.00", unit="share", between=AT_MOST_1),
    ]


def _coils() -> list[Line]:
    return [
        found("length", "Strip on a coil", "PF_COIL_LENGTH({outer},{inner},{thickness},1)", LENGTH, "#,##0"),
        found(
            "coil_mass",
            "Mass of a full coil",
            "PF_COIL_MASS({outer},{inner},{width},{density})",
            MASS,
            "#,##0",
            remark="for decoiler and crane",
            strong=True,
        ),
        found(
            "per_coil", "Parts per coil", "PF_PARTS_PER_COIL({length},{pitch},{rows},{end_loss})", COUNT, "#,##0"
        ),
        found(
            "coils", "Coils needed", "PF_COILS_NEEDED({quantity},{per_coil},{scrap})", COUNT, "#,##0", strong=True
        ),
        found(
            "to_order",
            "Strip to order",
            "PF_MASS_TO_ORDER({quantity},{gross},{scrap},{end_loss}/{length})",
            MASS,
            "#,##0",
        ),
        found("speed", "Mean speed of the strip", "PF_STRIP_SPEED({pitch},{rate})", FEED_SPEED, "0.0"),
        found(
            "parts",
            "Good parts",
            "PF_STROKE_RATE_THROUGHPUT({rate},{rows},{efficiency},{scrap})",
            PART_RATE,
            "#,##0",
        ),
        found("lasts", "A coil lasts", "PF_COIL_RUN_TIME({length},{pitch},{rate},{efficiency})", DURATION, "0.00"),
    ]
