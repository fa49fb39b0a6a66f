"""The template quote: cost of a piece, price, quantity breaks and break-even."""

from __future__ import annotations

from openpyxl import Workbook
from openpyxl.chart import BarChart, ScatterChart
from openpyxl.worksheet.pagebreak import Break, RowBreak

from pressfuncs._version import __version__
from pressfuncs.build.templates import charts, styling
from pressfuncs.build.templates.charts import Bar, Curve
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
from pressfuncs.build.templates.systems import METRIC, SMALL_PAPER
from pressfuncs.quantities import (
    AREA,
    COUNT,
    DENSITY,
    DURATION,
    HOURLY_RATE,
    LENGTH,
    MASS,
    MASS_PRICE,
    MONEY,
    PART_RATE,
    RATIO,
    STROKE_RATE,
)

NAME = "quote"
_SHEET = "Quote"
_WIDTHS = {"A": 36, "B": 10, **{letter: 12 for letter in "CDEFGH"}}
_BREAKS = 6
_PIECE, _SUM = "0.0000", "#,##0"
_MONEY = "money"
_CHART_ROWS = 16
_GUIDE = (
    "Sheet Quote: inputs are boxed by a broken line and marked input. Money is in one currency of your choice.",
    "Costs marked made are of one part made, good or bad. The piece cost divides them by the share of good parts, "
    "once: scrap is not deducted from the parts per hour as well.",
    "The gross mass of the strip is paid; what is left of it is sold at the scrap price.",
    "Quantity breaks: the same part in other lot sizes. The tool is written off over the whole programme in each.",
    "Break-even: the number of parts at the quoted price that brings back tool and upkeep. One sharpening that is "
    "begun counts whole.",
    "The part, the press and all rates and prices in this file are invented. A price is a planning figure until "
    "the run has been measured.",
)


def build(system: str = METRIC) -> bytes:
    """Piece cost and price of a part: breakdown, quantity breaks and break-even, with charts."""
    workbook = Workbook()
    workbook.properties.title = "Quote, invented example"
    workbook.properties.creator = "pressfuncs"
    sheet = workbook.active
    sheet.title = _SHEET
    start(sheet, "Quote (invented example)", "C2:H2", _WIDTHS)
    sheet.row_dimensions[2].height = 44
    form = Form(sheet, system, 4, _BREAKS)
    form.section("Material", _material())
    form.section("Press", _press())
    form.section("Tool, order and price", _order())
    worked_out = form.row + 1
    form.section("Worked out", _worked_out())
    results = form.row
    form.section("One good part of the lot, money", _good_part())
    form.section("Quantity breaks, money for one good part", _breaks(), _BREAKS)
    by_lot, even = form.row, form.row + _CHART_ROWS
    form.row = even
    form.section("Break-even", _break_even())
    form.section("Break-even, points of the chart", _points(), 3, ("start", "break-even", "twice"))
    sheet.add_chart(_breakdown(form), f"E{worked_out}")
    sheet.add_chart(_by_lot(form), f"A{by_lot}")
    sheet.add_chart(_even(form), f"A{form.row}")
    last = form.row + _CHART_ROWS
    styling.set_page(sheet, f"A1:H{last}", "1:2", __version__, SMALL_PAPER[system])
    sheet.page_setup.orientation = "portrait"
    sheet.row_breaks = RowBreak(brk=[Break(id=results - 1)])
    add_help(workbook, NAME, _GUIDE, system)
    return finished(workbook)


def _material() -> list[Line]:
    return [
        given("part", "Part", None, "cover", "@"),
        given("material", "Material", None, "DC04", "@", remark="a name of the material table"),
        given("thickness", "Sheet thickness", LENGTH, (1.2, 0.048), "0.00", between=ABOVE_0),
        given(
            "pitch", "Pitch", LENGTH, (96, 3.78), "0.0", between=ABOVE_0, remark="see the template strip_layout"
        ),
        given("width", "Strip width", LENGTH, (124, 4.88), "0.0", between=ABOVE_0),
        given("per_pitch", "Parts per pitch and stroke", COUNT, 1, "0", between=ABOVE_0),
        given("area", "Area of the blank", AREA, (8900, 13.8), "#,##0", between=ABOVE_0, remark="holes taken off"),
        given(
            "price",
            "Price of the strip",
            MASS_PRICE,
            (1.1, 0.5),
            "0.00",
            between=ABOVE_0,
        ),
        given("scrap_price", "Price of scrap", MASS_PRICE, (0.22, 0.1), "0.00", between=FROM_0),
    ]


def _press() -> list[Line]:
    return [
        given("rate", "Stroke rate", STROKE_RATE, 50, "0", between=ABOVE_0),
        given("efficiency", "Efficiency", RATIO, 0.72, "0.00", unit="share", between=AT_MOST_1),
        given("scrap", "Scrap, of the parts", RATIO, 0.015, "0.000", unit="share", between=AT_MOST_1),
        given("press_rate", "Press", HOURLY_RATE, 48, "0.00", between=ABOVE_0, remark="without operator"),
        given("labour_rate", "Operator", HOURLY_RATE, 34, "0.00", between=FROM_0),
        given("operators", "Operators", None, 0.5, "0.0", between=FROM_0, remark="0.5: one for two presses"),
        given("setup", "Setting up", DURATION, 1.5, "0.00", between=FROM_0),
        given("setup_rate", "Press and setter while setting up", HOURLY_RATE, 90, "0.00", between=ABOVE_0),
        given("per_day", "Press manned in a day", DURATION, 15, "0.0", between=(0.0, 24.0)),
    ]


def _order() -> list[Line]:
    return [
        given("tool", "Tool", MONEY, 21000, _SUM, unit=_MONEY, between=FROM_0),
        given("programme", "Parts that are sure to be ordered", COUNT, 200000, _SUM, between=ABOVE_0, whole=True),
        given("per_sharpening", "Parts per sharpening", COUNT, 60000, _SUM, between=ABOVE_0, whole=True),
        given("sharpening", "One sharpening", MONEY, 450, _SUM, unit=_MONEY, between=FROM_0),
        given("other", "Washing, packing, freight, made", MONEY, 0.03, _PIECE, unit=_MONEY, between=FROM_0),
        given("lot", "Lot size, good parts", COUNT, 10000, _SUM, between=ABOVE_0, whole=True),
        given("margin", "Margin", RATIO, 0.15, "0.00", unit="share", between=(0.0, 0.99)),
        given("margin_on", "Margin is a share of", None, "price", "@", choices='"price,cost"'),
    ]


def _worked_out() -> list[Line]:
    return [
        looked_up("density", "Density of the sheet", 'PF_MATERIAL({material},"density")', DENSITY, "0.00"),
        found(
            "gross", "Gross mass", "PF_GROSS_MASS({pitch},{width},{thickness},{density},{per_pitch})", MASS, _PIECE
        ),
        found("net", "Net mass", "PF_BLANK_MASS({area},{thickness},{density})", MASS, _PIECE),
        found(
            "made_rate",
            "Parts made",
            "PF_STROKE_RATE_THROUGHPUT({rate},{per_pitch},{efficiency},0)",
            PART_RATE,
            _SUM,
        ),
        found("made", "Parts to make for the lot", "PF_STROKES_NEEDED({lot},1,{scrap})", COUNT, _SUM),
        found("run", "Time on the press", "PF_RUN_TIME({made},{made_rate},{setup},0,0)", DURATION, "0.0"),
        found("days", "Working days", "PF_WORKING_DAYS({run},{per_day})", None, "0.0"),
        found(
            "c_material",
            "Material, made",
            "PF_MATERIAL_COST({gross},{price},{net},{scrap_price})",
            MONEY,
            _PIECE,
            unit=_MONEY,
        ),
        found(
            "c_press",
            "Press and operators, made",
            "PF_PRESS_COST({made_rate},{press_rate},{labour_rate},{operators})",
            MONEY,
            _PIECE,
            unit=_MONEY,
        ),
        found(
            "c_setup", "Setting up, made", "PF_SETUP_COST({setup},{setup_rate},{made})", MONEY, _PIECE, unit=_MONEY
        ),
        found(
            "upkeep",
            "Sharpening over the programme",
            "PF_SHARPENING_COST({programme},{per_sharpening},{sharpening})",
            MONEY,
            _SUM,
            unit=_MONEY,
        ),
        found(
            "c_tool",
            "Tool, made",
            "PF_TOOLING_COST({tool},PF_STROKES_NEEDED({programme},1,{scrap}),{upkeep})",
            MONEY,
            _PIECE,
            unit=_MONEY,
        ),
    ]


_COSTS = (
    ("material", "Material", "{c_material}"),
    ("press", "Press and operators", "{c_press}"),
    ("setup", "Setting up", "{c_setup}"),
    ("tool", "Tool", "{c_tool}"),
    ("other", "Other", "{other}"),
)


def _good_part() -> list[Line]:
    shares = [found(f"good_{key}", label, f"{made}/(1-{{scrap}})", MONEY, _PIECE) for key, label, made in _COSTS]
    cost = "PF_PIECE_COST({c_material},{c_press},{c_setup},{c_tool},{other},{scrap})"
    return [
        *shares,
        found("earned", "Margin", "{good_price}-{good_cost}", MONEY, _PIECE),
        found("good_cost", "Piece cost", cost, MONEY, _PIECE, strong=True),
        found(
            "good_price",
            "Price to quote",
            "PF_QUOTE_PRICE({good_cost},{margin},{margin_on})",
            MONEY,
            _PIECE,
            strong=True,
        ),
        found("total", "Price of the whole lot", "{good_price}*{lot}", MONEY, "#,##0.00", strong=True),
    ]


def _breaks() -> list[Line]:
    setup = "PF_SETUP_COST({setup},{setup_rate},PF_STROKES_NEEDED({break_lot},1,{scrap}))"
    cost = "PF_PIECE_COST({c_material},{c_press},{break_setup}*(1-{scrap}),{c_tool},{other},{scrap})"
    return [
        given(
            "break_lot",
            "Lot size, good parts",
            COUNT,
            [1000, 2500, 5000, 10000, 25000, 50000],
            _SUM,
            between=ABOVE_0,
            whole=True,
        ),
        found("break_run", "Material and press", "{good_material}+{good_press}", MONEY, _PIECE),
        found("break_setup", "Setting up", f"{setup}/(1-{{scrap}})", MONEY, _PIECE),
        found("break_tool", "Tool", "{good_tool}", MONEY, _PIECE),
        found("break_other", "Other", "{good_other}", MONEY, _PIECE),
        found("break_earned", "Margin", "{break_price}-{break_cost}", MONEY, _PIECE),
        found("break_cost", "Piece cost", cost, MONEY, _PIECE),
        found(
            "break_price",
            "Price to quote",
            "PF_QUOTE_PRICE({break_cost},{margin},{margin_on})",
            MONEY,
            _PIECE,
            strong=True,
        ),
        found("break_total", "Price of the whole lot", "{break_price}*{break_lot}", MONEY, _SUM),
    ]


def _break_even() -> list[Line]:
    variable = "PF_PIECE_COST({c_material},{c_press},{c_setup},0,{other},{scrap})"
    return [
        found("fixed", "Tool and its upkeep", "{tool}+{upkeep}", MONEY, _SUM, unit=_MONEY),
        found("variable", "One more good part", variable, MONEY, _PIECE, unit=_MONEY),
        found(
            "even",
            "Break-even",
            "PF_BREAK_EVEN_QUANTITY({fixed},{good_price},{variable})",
            COUNT,
            _SUM,
            unit="parts",
            strong=True,
        ),
    ]


def _points() -> list[Line]:
    return [
        found("n", "Parts sold", ["0", "{even}", "2*{even}"], COUNT, _SUM),
        found("spent", "Cost", "{fixed}+{variable}*{n}", MONEY, _SUM, unit=_MONEY),
        found("income", "Income", "{good_price}*{n}", MONEY, _SUM, unit=_MONEY),
    ]


def _breakdown(form: Form) -> BarChart:
    values = f"{form.cell('good_material', 0, sheet=True)}:{form.cell('earned')}"
    bar = Bar(values, "one good part", charts.BLUE)
    title, words = "Price of one good part", values.replace("$C$", "$A$")
    return charts.bars([bar], words, title, "", "money for one good part", (11.5, 6.8), horizontal=True)


def _by_lot(form: Form) -> BarChart:
    looks = (
        ("run", "material and press", charts.BLUE, ""),
        ("setup", "setting up", charts.ORANGE, "wdUpDiag"),
        ("tool", "tool", charts.GREEN, "dkHorz"),
        ("other", "other", charts.GREY, "pct50"),
        ("earned", "margin", charts.PALE, ""),
    )
    series = [Bar(form.area(f"break_{key}"), name, colour, pattern) for key, name, colour, pattern in looks]
    lots = form.area("break_lot")
    return charts.bars(
        series,
        lots,
        "Price by lot size",
        "lot size, good parts",
        "money for one good part",
        (25, 7.6),
        stacked=True,
    )


def _even(form: Form) -> ScatterChart:
    n = form.area("n")
    spent = Curve(n, form.area("spent"), "cost: tool, upkeep and parts", charts.ORANGE, 2.25, "dash")
    income = Curve(n, form.area("income"), "income at the quoted price", charts.BLUE, 2.25)
    even = form.cell("n", 1, sheet=True), form.cell("income", 1, sheet=True)
    point = Curve(*even, "break-even", charts.INK, marker="diamond", size=10, line=False)
    return charts.scatter([spent, income, point], "Break-even", "good parts sold", _MONEY, (25, 7.6))
