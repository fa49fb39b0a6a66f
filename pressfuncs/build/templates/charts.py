"""Native charts: titles, axes with units, lines told apart by more than colour, drawings to scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from openpyxl.chart import BarChart, Reference, ScatterChart
from openpyxl.chart.data_source import AxDataSource, StrRef
from openpyxl.chart.layout import Layout, ManualLayout
from openpyxl.chart.legend import Legend, LegendEntry
from openpyxl.chart.marker import Marker
from openpyxl.chart.series import Series, SeriesLabel
from openpyxl.chart.series_factory import SeriesFactory
from openpyxl.chart.shapes import GraphicalProperties
from openpyxl.chart.title import Title, title_maker
from openpyxl.drawing.fill import ColorChoice, PatternFillProperties
from openpyxl.drawing.line import LineProperties
from openpyxl.drawing.text import CharacterProperties, ParagraphProperties

INK, BLUE, ORANGE, GREEN, GREY, PALE = "1F2A30", "1F5A8A", "C0621A", "3B7D5E", "8A969C", "D5DCE0"
_GRID = "E3E7E9"
_EMU = 12700
"""Units of the file format in one point."""
_MOST = 1.0
"""Drawings to scale go from 0 to this along the sheet."""


@dataclass(frozen=True)
class Curve:
    """One line or set of points of a scatter chart; `name` is a text, or the address of a cell that holds it."""

    x: str
    y: str
    name: str
    colour: str = INK
    width: float = 2.0
    dash: str = "solid"
    marker: str = "none"
    size: int = 8
    line: bool = True
    in_legend: bool = True


@dataclass(frozen=True)
class Bar:
    """One series of a bar chart; with a pattern it is told from its neighbours without colour."""

    values: str
    name: str
    colour: str
    pattern: str = ""


def scatter(
    curves: Sequence[Curve], title: str, x_title: str, y_title: str, size: tuple[float, float]
) -> ScatterChart:
    """Return a chart of lines over numbers; size is in cm."""
    chart = ScatterChart(scatterStyle="lineMarker")
    chart.style = None
    for number, curve in enumerate(curves):
        chart.series.append(_line(curve, number))
    _finish(chart, title, size)
    _axis(chart.x_axis, x_title)
    _axis(chart.y_axis, y_title)
    chart.x_axis.scaling.min = chart.y_axis.scaling.min = 0
    hidden = [number for number, curve in enumerate(curves) if not curve.in_legend]
    chart.legend.legendEntry = [LegendEntry(idx=number, delete=True) for number in hidden]
    return chart


def drawing(
    curves: Sequence[Curve],
    title: str,
    x_title: str,
    y_title: str,
    width: float,
    ratio: float,
    legend: float = 2.0,
) -> ScatterChart:
    """Return a chart that is a drawing to scale: its plot area is `ratio` as wide as high, and so are its axes.

    The points must have been scaled by formulas to lie from 0 to 1 along, and from 0 to 1 / ratio upwards.

    Arguments:
        curves: the lines of the drawing
        title: title of the chart
        x_title: what is along
        y_title: what is upwards
        width: width of the chart in cm
        ratio: width over height of the field
        legend: room for axis title and legend under the drawing, in cm
    """
    left, top = 0.06, 1.3
    plot_width = width * (1 - 2 * left)
    plot_height = plot_width / ratio
    height = plot_height + top + legend
    chart = scatter(curves, title, x_title, y_title, (width, height))
    for axis, most in ((chart.x_axis, _MOST), (chart.y_axis, _MOST / ratio)):
        axis.scaling.min, axis.scaling.max = 0, most
        axis.number_format, axis.majorTickMark = ";;;", None  # numbers of the field mean nothing to a reader
        axis.majorGridlines = None
        axis.graphicalProperties = GraphicalProperties(ln=LineProperties(noFill=True))
    chart.plot_area.layout = chart.layout = Layout(
        ManualLayout("inner", "edge", "edge", x=left, y=top / height, w=1 - 2 * left, h=plot_height / height)
    )
    return chart


def bars(
    series: Sequence[Bar],
    names: str,
    title: str,
    x_title: str,
    y_title: str,
    size: tuple[float, float],
    stacked: bool = False,
    horizontal: bool = False,
) -> BarChart:
    """Return a bar chart; `names` is the range of the words under the bars."""
    chart = BarChart(barDir="bar" if horizontal else "col", grouping="stacked" if stacked else "clustered")
    chart.style = None
    chart.overlap, chart.gapWidth = (100, 60) if stacked else (-10, 60)
    for bar in series:
        added = SeriesFactory(Reference(range_string=bar.values))
        added.tx = _label(bar.name)
        if bar.pattern:
            ink, ground = ColorChoice(srgbClr=bar.colour), ColorChoice(srgbClr="FFFFFF")
            fill = PatternFillProperties(prst=bar.pattern, fgClr=ink, bgClr=ground)
            added.graphicalProperties = GraphicalProperties(pattFill=fill)
        else:
            added.graphicalProperties = GraphicalProperties(solidFill=bar.colour)
        added.graphicalProperties.line = LineProperties(solidFill=INK, w=int(0.75 * _EMU))
        added.cat = AxDataSource(strRef=StrRef(f=names))  # words: apps refuse them among stored numbers
        chart.series.append(added)
    _finish(chart, title, size)
    _axis(chart.x_axis, x_title)
    _axis(chart.y_axis, y_title)
    chart.x_axis.majorGridlines = None
    chart.y_axis.scaling.min = 0
    if horizontal:
        chart.x_axis.scaling.orientation = "maxMin"
        chart.y_axis.crosses = "max"
    if len(series) == 1:
        chart.legend = None
    return chart


def _line(curve: Curve, number: int) -> Series:
    series = SeriesFactory(Reference(range_string=curve.y), xvalues=Reference(range_string=curve.x))
    series.tx = _label(curve.name)
    series.smooth = False
    series.marker = Marker(symbol=curve.marker, size=curve.size if curve.marker != "none" else None)
    if curve.marker != "none":
        filled = GraphicalProperties(solidFill=curve.colour)
        filled.line = LineProperties(solidFill=curve.colour)
        series.marker.graphicalProperties = filled
    shown = LineProperties(solidFill=curve.colour, prstDash=curve.dash, w=int(curve.width * _EMU))
    series.graphicalProperties = GraphicalProperties(ln=shown if curve.line else LineProperties(noFill=True))
    return series


def _label(name: str) -> SeriesLabel:
    return SeriesLabel(strRef=StrRef(f=name)) if "!" in name else SeriesLabel(v=name)


def _finish(chart: Any, title: str, size: tuple[float, float]) -> None:
    chart.width, chart.height = size
    chart.varyColors = False
    chart.title = _title(title, 1200, bold=True)
    chart.legend = Legend(legendPos="b")
    chart.legend.overlay = False
    chart.graphical_properties = GraphicalProperties(solidFill="FFFFFF", ln=LineProperties(solidFill=GREY))
    chart.roundedCorners = False


def _title(text: str, size: int, bold: bool) -> Title:
    look = CharacterProperties(sz=size, b=bold, solidFill=INK)
    title = title_maker(text)
    for paragraph in title.tx.rich.p:
        paragraph.pPr = ParagraphProperties(defRPr=look)
        for run in paragraph.r:
            run.rPr = look
    title.overlay = False
    return title


def _axis(axis: Any, title: str) -> None:
    axis.delete = False
    axis.title = _title(title, 1000, bold=False) if title else None
    if axis.majorGridlines is not None:
        axis.majorGridlines.spPr = GraphicalProperties(ln=LineProperties(solidFill=_GRID))
    axis.graphicalProperties = GraphicalProperties(ln=LineProperties(solidFill=GREY))
    axis.number_format, axis.numFmt.sourceLinked = "General", False
