"""Workbooks with things that lie on the sheets: controls, embedded objects, charts, pictures."""

from __future__ import annotations

from pathlib import Path

from books import F, force
from books import Part as P
from fidelity_kinds import FRESH, MORE, RELATIONS, SHEET, SPREAD, TYPES, X14, kind, register
from fidelity_parts import vml
from parts import MAIN

_MC = 'xmlns:mc="http://schemas.openxmlformats.org/markup-compatibility/2006"'
_XDR = 'xmlns:xdr="http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing"'
_A = 'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main"'
_BINARY = bytes(range(256)) * 12
_DRAWING = "xl/drawings/drawing1.xml"


def _only(content: str, requires: str = "x14", declared: str = f"{X14}") -> str:
    """Return what only newer applications look at."""
    choice = f'<mc:Choice {declared} Requires="{requires}">{content}</mc:Choice>'
    return f"<mc:AlternateContent {_MC}>{choice}<mc:Fallback/></mc:AlternateContent>"


def _anchored(content: str, more: str = "") -> str:
    """Return a drawing part that holds one thing."""
    return (
        f'<xdr:wsDr {_XDR} {_A} xmlns:r="{RELATIONS}"{more}><xdr:twoCellAnchor><xdr:from><xdr:col>5</xdr:col>'
        "<xdr:colOff>0</xdr:colOff><xdr:row>1</xdr:row><xdr:rowOff>0</xdr:rowOff></xdr:from><xdr:to><xdr:col>9"
        "</xdr:col><xdr:colOff>0</xdr:colOff><xdr:row>9</xdr:row><xdr:rowOff>0</xdr:rowOff></xdr:to>"
        f"{content}<xdr:clientData/></xdr:twoCellAnchor></xdr:wsDr>"
    )


def _frame(graphic: str) -> str:
    return (
        '<xdr:graphicFrame macro=""><xdr:nvGraphicFramePr><xdr:cNvPr id="2" name="it"/><xdr:cNvGraphicFramePr/>'
        '</xdr:nvGraphicFramePr><xdr:xfrm><a:off x="0" y="0"/><a:ext cx="0" cy="0"/></xdr:xfrm><a:graphic>'
        f"{graphic}</a:graphic></xdr:graphicFrame>"
    )


_SHAPE = (
    '<xdr:sp macro="" textlink=""><xdr:nvSpPr><xdr:cNvPr id="1025" name="Check Box 1" hidden="1"/><xdr:cNvSpPr/>'
    '</xdr:nvSpPr><xdr:spPr><a:prstGeom prst="rect"><a:avLst/></a:prstGeom></xdr:spPr></xdr:sp>'
)
_SUFFIXES = {"vml": f"{TYPES}.vmlDrawing", "emf": "image/x-emf", "bin": f"{TYPES}.oleObject", "png": "image/png"}


@kind(
    "form controls: properties, and the old drawing below",
    "xl/ctrlProps/ctrlProp1.xml", "xl/drawings/vmlDrawing1.vml",
    office=True,
)  # fmt: skip
def form_controls(path: Path) -> Path:
    control = '<control shapeId="1025" r:id="rIdC" name="Check Box 1"><controlPr defaultSize="0"/></control>'
    controls = _only(f"<controls>{control}</controls>")
    properties = f'<formControlPr xmlns="{MORE}/spreadsheetml/2009/9/main" objectType="CheckBox" fmlaLink="$A$9"/>'
    return register(
        path,
        P("xl/ctrlProps/ctrlProp1.xml", properties, "application/vnd.ms-excel.controlproperties+xml", "ctrlProp",
          SHEET, "rIdC"),
        P("xl/drawings/vmlDrawing1.vml", vml("Checkbox", "<x:FmlaLink>$A$9</x:FmlaLink>"), "", "vmlDrawing",
          SHEET, "rIdV"),
        P(_DRAWING, _anchored(_SHAPE), f"{TYPES}.drawing+xml", "drawing", SHEET, "rIdD"),
        suffixes=_SUFFIXES,
        tails={"Dies": f'<drawing r:id="rIdD"/><legacyDrawing r:id="rIdV"/>{controls}'},
    )  # fmt: skip


@kind("ActiveX controls with their binary state", "xl/activeX/activeX1.xml", "xl/activeX/activeX1.bin")
def active_x(path: Path) -> Path:
    state = "xl/activeX/activeX1.xml"
    ocx = (
        f'<ax:ocx xmlns:ax="{MORE}/2006/activeX" xmlns:r="{RELATIONS}" ax:persistence="persistStreamInit" '
        f'r:id="rId1" '
        'ax:classid="{D7053240-CE69-11CD-A777-00DD01143C57}"/>'
    )
    control = '<control shapeId="1025" r:id="rIdC" name="CommandButton1"/>'
    return register(
        path,
        P(state, ocx, "application/vnd.ms-office.activeX+xml", "control", SHEET, "rIdC"),
        P("xl/activeX/activeX1.bin", _BINARY, "application/vnd.ms-office.activeX",
          f"{MORE}/2006/relationships/activeXControlBinary", state, "rId1"),
        P("xl/media/image1.emf", _BINARY, "", "image", SHEET),
        P("xl/drawings/vmlDrawing1.vml", vml("Pict", ""), "", "vmlDrawing", SHEET, "rIdV"),
        suffixes=_SUFFIXES,
        tails={"Dies": f'<legacyDrawing r:id="rIdV"/><controls>{control}</controls>'},
    )  # fmt: skip


@kind("embedded objects and packages", "xl/embeddings/oleObject1.bin", "xl/embeddings/Document1.docx")
def embedded(path: Path) -> Path:
    entries = "".join(
        f'<oleObject progId="Invented.{number}" shapeId="{1024 + number}" r:id="rIdO{number}"/>'
        for number in (1, 2)
    )
    document = f"{TYPES}.wordprocessingml.document"
    ole = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + _BINARY
    return register(
        path,
        P("xl/embeddings/oleObject1.bin", ole, "", "oleObject", SHEET, "rIdO1"),
        P("xl/embeddings/Document1.docx", b"PK\3\4" + _BINARY, document, "package", SHEET, "rIdO2"),
        P("xl/drawings/vmlDrawing1.vml", vml("Pict", ""), "", "vmlDrawing", SHEET, "rIdV"),
        suffixes=_SUFFIXES,
        tails={"Dies": f'<legacyDrawing r:id="rIdV"/><oleObjects>{entries}</oleObjects>'},
    )  # fmt: skip


@kind(
    "charts with stored points, their styles and colours",
    "xl/charts/chart1.xml",
    "xl/charts/style1.xml",
    office=True,
)
def charts(path: Path) -> Path:
    c = "http://schemas.openxmlformats.org/drawingml/2006/chart"
    chart, style = "xl/charts/chart1.xml", "http://schemas.microsoft.com/office/drawing/2012/chartStyle"
    points = '<c:numCache><c:ptCount val="1"/><c:pt idx="0"><c:v>1</c:v></c:pt></c:numCache>'
    series = (
        '<c:ser><c:idx val="0"/><c:order val="0"/><c:val><c:numRef><c:f>Dies!$D$1</c:f>'
        f"{points}</c:numRef></c:val></c:ser>"
    )
    axes = "".join(
        f'<c:{tag}><c:axId val="{own}"/><c:scaling/><c:delete val="0"/><c:axPos val="{place}"/><c:crossAx '
        f'val="{other}"/></c:{tag}>'
        for tag, own, other, place in (("catAx", 1, 2, "b"), ("valAx", 2, 1, "l"))
    )
    text = (
        f'<c:chartSpace xmlns:c="{c}" {_A}><c:chart><c:plotArea><c:layout/><c:barChart><c:barDir val="col"/>'
        f'<c:grouping val="clustered"/>{series}<c:axId val="1"/><c:axId val="2"/></c:barChart>{axes}</c:plotArea>'
        "</c:chart></c:chartSpace>"
    )
    graphic = f'<a:graphicData uri="{c}"><c:chart xmlns:c="{c}" r:id="rId1"/></a:graphicData>'
    relation = f"{MORE}/2011/relationships"
    return register(
        path,
        P(_DRAWING, _anchored(_frame(graphic)), f"{TYPES}.drawing+xml", "drawing", SHEET, "rIdD"),
        P(chart, text, f"{TYPES}.drawingml.chart+xml", "chart", _DRAWING, "rId1"),
        P("xl/charts/style1.xml", f'<cs:chartStyle xmlns:cs="{style}" id="201"/>',
          "application/vnd.ms-office.chartstyle+xml", f"{relation}/chartStyle", chart),
        P("xl/charts/colors1.xml", f'<cs:colorStyle xmlns:cs="{style}" meth="cycle" id="10"/>',
          "application/vnd.ms-office.chartcolorstyle+xml", f"{relation}/chartColorStyle", chart),
        tails={"Dies": '<drawing r:id="rIdD"/>'},
    )  # fmt: skip


@kind(
    "charts of the newer kind, diagrams, pictures and their drawn form",
    "xl/charts/chartEx1.xml",
    "xl/media/image1.svg",
)
def newer_drawings(path: Path) -> Path:
    cx = f"{MORE}/drawing/2014/chartex"
    text = f'<cx:chartSpace xmlns:cx="{cx}"><cx:chartData/><cx:chart/></cx:chartSpace>'
    graphic = f'<a:graphicData uri="{cx}"><cx:chart xmlns:cx="{cx}" r:id="rId1"/></a:graphicData>'
    choice = _only(_frame(graphic), "cx1", f'xmlns:cx1="{cx}"')
    return register(
        path,
        P(_DRAWING, _anchored(choice), f"{TYPES}.drawing+xml", "drawing", SHEET, "rIdD"),
        P("xl/charts/chartEx1.xml", text, "application/vnd.ms-office.chartex+xml",
          f"{MORE}/2014/relationships/chartEx", _DRAWING, "rId1"),
        P("xl/diagrams/data1.xml", "<dgm/>", f"{TYPES}.drawingml.diagramData+xml", "diagramData", _DRAWING),
        P("xl/media/image1.png", b"\x89PNG\r\n\x1a\n" + _BINARY, "", "image", _DRAWING),
        P("xl/media/image1.svg", "<svg xmlns='http://www.w3.org/2000/svg'/>", "image/svg+xml", "image", _DRAWING),
        suffixes=_SUFFIXES,
        tails={"Dies": '<drawing r:id="rIdD"/>'},
    )  # fmt: skip


@kind(
    "tables with structured references, single cells mapped to XML",
    "xl/tables/table1.xml", "xl/xmlMaps.xml",
    values={**FRESH, "Dies!B6": force(50, 2, 310), "Dies!B7": force(60, 2, 310), "Dies!C1": 310},
)  # fmt: skip
def mapped_tables(path: Path) -> Path:
    formula = "PF_SHEARING_FORCE(Lengths[[#This Row],[L]],$B$1,$C$1)"
    maps = f'<MapInfo xmlns="{MAIN}" SelectionNamespaces=""><Schema ID="S"/></MapInfo>'
    single = f'<singleXmlCells xmlns="{MAIN}"><singleXmlCell id="1" r="A1" connectionId="0"/></singleXmlCells>'
    return register(
        path,
        P("xl/xmlMaps.xml", maps, "application/xml", "xmlMaps"),
        P("xl/tables/tableSingleCells1.xml", single, f"{SPREAD}.tableSingleCells+xml", "tableSingleCells", SHEET),
        cells={"A5": "L", "B5": "F", "A6": 50.0, "A7": 60.0, "B6": F(formula, 1.0), "B7": F(formula, 1.0)},
        tables={"Lengths": ("Dies", "A5:B7", ["L", "F"])},
    )
