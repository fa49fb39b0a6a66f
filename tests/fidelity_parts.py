"""Workbooks with parts beside the sheets: pivots, slicers, comments, queries, macros, signatures, custom data."""

from __future__ import annotations

from pathlib import Path

from books import F
from books import Part as P
from fidelity_kinds import FRESH, MORE, RELATIONS, SHEET, SPREAD, TYPES, X14, ext, kind, listed, register
from parts import MAIN

from pressfuncs.batch.recalc import Options

_PACKAGE = "http://schemas.openxmlformats.org/package/2006"
_NOISE = bytes(range(256)) * 12
"""Stands for what only its own application can read."""

_SHARED = {
    "A2": "die",
    "B2": "force",
    "A3": "D1",
    "B3": F("PF_SHEARING_FORCE(A1,B1,C1)", 5.0),
    "A4": "D2",
    "B4": 7.0,
}
_FOUND = {**FRESH, "Dies!B3": FRESH["Dies!D1"]}


def _pivot() -> tuple[P, ...]:
    items = "".join(f'<s v="{text}"/>' for text in ("D1", "D2"))
    fields = [
        f'<cacheField name="die" numFmtId="0"><sharedItems count="2">{items}</sharedItems></cacheField>',
        '<cacheField name="force" numFmtId="0"><sharedItems containsSemiMixedTypes="0" containsString="0" '
        'containsNumber="1" minValue="5" maxValue="7"/></cacheField>',
    ]
    source = '<cacheSource type="worksheet"><worksheetSource ref="A2:B4" sheet="Dies"/></cacheSource>'
    records = [f'<r><x v="{i}"/><n v="{number}"/></r>' for i, number in enumerate((5, 7))]
    axis = '<items count="3"><item x="0"/><item x="1"/><item t="default"/></items>'
    rows = ["<i><x/></i>", '<i><x v="1"/></i>', '<i t="grand"><x/></i>']
    table = (
        f'<pivotTableDefinition xmlns="{MAIN}" name="ByDie" cacheId="7" dataCaption="Values" updatedVersion="6">'
        '<location ref="G2:H5" firstHeaderRow="1" firstDataRow="1" firstDataCol="1"/><pivotFields count="2">'
        f'<pivotField axis="axisRow" showAll="0">{axis}</pivotField><pivotField dataField="1" showAll="0"/>'
        f'</pivotFields><rowFields count="1"><field x="0"/></rowFields>{listed(rows, "rowItems")}'
        '<colItems count="1"><i/></colItems><dataFields count="1"><dataField name="Sum of force" fld="1" '
        'baseField="0" baseItem="0"/></dataFields></pivotTableDefinition>'
    )
    definition = (
        f'<pivotCacheDefinition xmlns="{MAIN}" xmlns:r="{RELATIONS}" r:id="rId1" recordCount="2" '
        f'refreshedVersion="6">{source}{listed(fields, "cacheFields")}</pivotCacheDefinition>'
    )
    held = f'<pivotCacheRecords xmlns="{MAIN}" count="2">{"".join(records)}</pivotCacheRecords>'
    cache, tables = "xl/pivotCache/pivotCacheDefinition1.xml", "xl/pivotTables/pivotTable1.xml"
    made = f"{SPREAD}.pivotCacheDefinition+xml"
    records_kind = f"{SPREAD}.pivotCacheRecords+xml"
    return (
        P(cache, definition, made, "pivotCacheDefinition", id="rIdC"),
        P("xl/pivotCache/pivotCacheRecords1.xml", held, records_kind, "pivotCacheRecords", cache, "rId1"),
        P(tables, table, f"{SPREAD}.pivotTable+xml", "pivotTable", SHEET),
        P(cache, None, "", "pivotCacheDefinition", tables),
    )  # fmt: skip


_CACHES = '<pivotCaches><pivotCache cacheId="7" r:id="rIdC"/></pivotCaches>'
_PIVOT_CELLS = {
    **_SHARED,
    **{"G2": "Row labels", "H2": "Sum of force", "G3": "D1", "H3": 5.0, "G4": "D2", "H4": 7.0, "H5": 12.0},
}


@kind(
    "pivot table with its cache and records",
    "xl/pivotTables/pivotTable1.xml", "xl/pivotCache/pivotCacheRecords1.xml",
    values=_FOUND, office=True,
)  # fmt: skip
def pivot_table(path: Path) -> Path:
    return register(path, *_pivot(), cells=_PIVOT_CELLS, book=_CACHES)


def _slicer(name: str, cache: str) -> str:
    return f'<slicer name="{name}" cache="{cache}" caption="{name}" rowHeight="241300"/>'


_SLICED = (
    '<xdr:wsDr xmlns:xdr="http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing" '
    'xmlns:a="http://schemas.openxmlformats.org/drawingml/2006/main"><xdr:absoluteAnchor><xdr:pos x="0" y="0"/>'
    '<xdr:ext cx="900000" cy="900000"/><mc:AlternateContent '
    'xmlns:mc="http://schemas.openxmlformats.org/markup-compatibility/2006"><mc:Choice '
    f'xmlns:sle15="{MORE}/drawing/2012/slicer" Requires="sle15"><xdr:graphicFrame macro=""><xdr:nvGraphicFramePr>'
    '<xdr:cNvPr id="2" name="die"/><xdr:cNvGraphicFramePr/></xdr:nvGraphicFramePr><xdr:xfrm><a:off x="0" y="0"/>'
    '<a:ext cx="0" cy="0"/></xdr:xfrm><a:graphic><a:graphicData uri="http://schemas.microsoft.com/office/drawing/'
    f'2010/slicer"><sle:slicer xmlns:sle="{MORE}/drawing/2010/slicer" name="die"/></a:graphicData></a:graphic>'
    "</xdr:graphicFrame></mc:Choice><mc:Fallback/></mc:AlternateContent><xdr:clientData/></xdr:absoluteAnchor>"
    "</xdr:wsDr>"
)


@kind(
    "slicers of a table and of a pivot table",
    "xl/slicers/slicer1.xml", "xl/slicerCaches/slicerCache1.xml", "xl/slicerCaches/slicerCache2.xml",
    values=_FOUND, office=True,
)  # fmt: skip
def slicers(path: Path) -> Path:
    x15 = f'xmlns:x15="{MORE}/spreadsheetml/2010/11/main"'
    main = f'xmlns="{MORE}/spreadsheetml/2009/9/main" xmlns:x="{MAIN}"'
    of_table = (
        f'<slicerCacheDefinition {main} name="Slicer_die" sourceName="die"><extLst><x:ext {x15} '
        'uri="{2F2917AC-EB37-4324-AD4E-5DD8C200BD13}"><x15:tableSlicerCache tableId="1" column="1"/></x:ext>'
        "</extLst></slicerCacheDefinition>"
    )
    of_pivot = (
        f'<slicerCacheDefinition {main} name="Slicer_die1" sourceName="die"><pivotTables><pivotTable tabId="1" '
        'name="ByDie"/></pivotTables><data><tabular pivotCacheId="7"><items count="2"><i x="0" s="1"/>'
        '<i x="1" s="1"/></items></tabular></data></slicerCacheDefinition>'
    )
    kinds, relation = "application/vnd.ms-excel", f"{MORE}/2007/relationships"
    shown = f"<slicers {main}>{_slicer('die', 'Slicer_die')}{_slicer('die 1', 'Slicer_die1')}</slicers>"
    caches = [
        P(f"xl/slicerCaches/slicerCache{i}.xml", text, f"{kinds}.slicerCache+xml", f"{relation}/slicerCache",
          id=f"rIdS{i}")
        for i, text in enumerate((of_table, of_pivot), 1)
    ]  # fmt: skip
    old = f'<x14:slicerCaches {X14}><x14:slicerCache r:id="rIdS2"/></x14:slicerCaches>'
    new = f'<x15:slicerCaches {x15} {X14}><x14:slicerCache r:id="rIdS1"/></x15:slicerCaches>'
    return register(
        path,
        *_pivot(),
        *caches,
        P("xl/slicers/slicer1.xml", shown, f"{kinds}.slicer+xml", f"{relation}/slicer", SHEET, "rIdL"),
        P("xl/drawings/drawing1.xml", _SLICED, f"{TYPES}.drawing+xml", "drawing", SHEET, "rIdD"),
        cells=_PIVOT_CELLS,
        book=_CACHES,
        tables={"Dies1": ("Dies", "A2:B4", ["die", "force"])},
        tails={"Dies": '<drawing r:id="rIdD"/>'},
        extensions={
            "": ext("BBE1A952-AA13-448e-AADC-164F8A28A991", old)
            + ext("46BE6895-7355-4a93-B00E-2C351335B9C9", new),
            "Dies": ext("3A4CF648-6AED-40f4-86FF-DC5316D8AED3",
                        f'<x15:slicerList {x15} {X14}><x14:slicer r:id="rIdL"/></x15:slicerList>'),
        },
    )  # fmt: skip


@kind(
    "threaded comments, the persons who wrote them, and the old comments below",
    "xl/threadedComments/threadedComment1.xml", "xl/persons/person.xml", "xl/comments1.xml",
    office=True,
)  # fmt: skip
def threaded_comments(path: Path) -> Path:
    threads = f"{MORE}/spreadsheetml/2018/threadedcomments"
    number, person = "{5C27EC9C-3A54-4B9D-9B3C-3F2B3F0A1B11}", "{3B0B6A5E-8D5C-4B3C-8E56-2F0A7B1C9D22}"
    said = (
        f'<ThreadedComments xmlns="{threads}"><threadedComment ref="D1" dT="2024-05-06T07:08:09.10" '
        f'personId="{person}" id="{number}"><text>which press?</text></threadedComment></ThreadedComments>'
    )
    persons = (
        f'<personList xmlns="{threads}"><person displayName="Shop" id="{person}" userId="shop" providerId="None"/>'
        "</personList>"
    )
    old = (
        f'<comments xmlns="{MAIN}"><authors><author>tc={number}</author></authors><commentList><comment ref="D1" '
        'authorId="0" shapeId="0"><text><t>which press?</t></text></comment></commentList></comments>'
    )
    relation = f"{MORE}/2017/10/relationships"
    return register(
        path,
        P("xl/persons/person.xml", persons, "application/vnd.ms-excel.person+xml", f"{relation}/person"),
        P("xl/threadedComments/threadedComment1.xml", said, "application/vnd.ms-excel.threadedcomments+xml",
          f"{relation}/threadedComment", SHEET),
        P("xl/comments1.xml", old, f"{SPREAD}.comments+xml", "comments", SHEET),
        P("xl/drawings/vmlDrawing1.vml", vml("Note", '<x:Row>0</x:Row><x:Column>3</x:Column>'),
          "", "vmlDrawing", SHEET, "rIdV"),
        suffixes={"vml": f"{TYPES}.vmlDrawing"},
        tails={"Dies": '<legacyDrawing r:id="rIdV"/>'},
    )  # fmt: skip


def vml(kind_of: str, content: str) -> str:
    """Return an old drawing with one shape, which is no XML by every parser's rules: `<br>` is not closed."""
    return (
        '<xml xmlns:v="urn:schemas-microsoft-com:vml" xmlns:o="urn:schemas-microsoft-com:office:office" '
        'xmlns:x="urn:schemas-microsoft-com:office:excel"><v:shapetype id="_x0000_t202" coordsize="21600,21600" '
        'o:spt="202" path="m,l,21600r21600,l21600,xe"/><v:shape id="_x0000_s1025" type="#_x0000_t202" '
        'style="position:absolute;margin-left:80pt;margin-top:2pt;width:96pt;height:55pt;visibility:hidden">'
        f'<v:textbox><div style="text-align:left"><br></div></v:textbox><x:ClientData ObjectType="{kind_of}">'
        f"<x:Anchor>4, 15, 0, 2, 6, 15, 3, 16</x:Anchor>{content}</x:ClientData></v:shape></xml>"
    )


@kind("query tables and connections", "xl/connections.xml", "xl/queryTables/queryTable1.xml")
def query_tables(path: Path) -> Path:
    connections = (
        f'<connections xmlns="{MAIN}"><connection id="1" name="dies" type="6" refreshedVersion="6" '
        'background="1"><textPr sourceFile="C:\\invented\\dies.txt"><textFields count="1"><textField/>'
        "</textFields>"
        "</textPr></connection></connections>"
    )
    query = f'<queryTable xmlns="{MAIN}" name="dies" connectionId="1" autoFormatId="16"/>'
    return register(
        path,
        P("xl/connections.xml", connections, f"{SPREAD}.connections+xml", "connections"),
        P("xl/queryTables/queryTable1.xml", query, f"{SPREAD}.queryTable+xml", "queryTable", SHEET),
    )


@kind("printer settings, headers with pictures", "xl/printerSettings/printerSettings1.bin", "xl/media/logo.png")
def printer_settings(path: Path) -> Path:
    tail = (
        '<pageSetup paperSize="9" orientation="landscape" r:id="rIdP"/><headerFooter>'
        "<oddHeader>&amp;L&amp;G</oddHeader>"
        '</headerFooter><legacyDrawingHF r:id="rIdH"/>'
    )
    drawing = "xl/drawings/vmlDrawingHF1.vml"
    return register(
        path,
        P("xl/printerSettings/printerSettings1.bin", _NOISE, "", "printerSettings", SHEET, "rIdP"),
        P(drawing, vml("Pict", ""), "", "vmlDrawing", SHEET, "rIdH"),
        P("xl/media/logo.png", b"\x89PNG\r\n\x1a\n" + _NOISE, "", "image", drawing),
        suffixes={"bin": f"{SPREAD}.printerSettings", "vml": f"{TYPES}.vmlDrawing", "png": "image/png"},
        tails={"Dies": tail},
    )


@kind("custom XML with its properties", "customXml/item1.xml", "customXml/itemProps1.xml", "docProps/custom.xml")
def custom_xml(path: Path) -> Path:
    properties = (
        '<ds:datastoreItem xmlns:ds="http://schemas.openxmlformats.org/officeDocument/2006/customXml" '
        'ds:itemID="{1F2E3D4C-0000-4000-8000-000000000001}"><ds:schemaRefs/></ds:datastoreItem>'
    )
    custom = (
        '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/custom-properties" '
        'xmlns:vt="http://schemas.openxmlformats.org/officeDocument/2006/docPropsVTypes"><property '
        'fmtid="{D5CDD505-2E9C-101B-9397-08002B2CF9AE}" pid="2" name="shop"><vt:lpwstr>7</vt:lpwstr></property>'
        "</Properties>"
    )
    labels = '<clbl:labelList xmlns:clbl="http://schemas.microsoft.com/office/2020/mipLabelMetadata"/>'
    return register(
        path,
        P("customXml/item1.xml", '<?xml version="1.0"?>\r\n<dies xmlns="urn:shop">\t<die/> </dies>\n', "",
          "customXml"),
        P("customXml/itemProps1.xml", properties, f"{TYPES}.customXmlProperties+xml", "customXmlProps",
          "customXml/item1.xml"),
        P("docProps/custom.xml", custom, f"{TYPES}.custom-properties+xml", "custom-properties", ""),
        P("docMetadata/LabelInfo.xml", labels, "application/vnd.ms-office.classificationlabels+xml",
          f"{MORE}/2020/02/relationships/classificationlabels", ""),
        P("docProps/thumbnail.wmf", _NOISE, "image/x-wmf", f"{_PACKAGE}/relationships/metadata/thumbnail", ""),
    )  # fmt: skip


@kind(
    "digital signatures, with --allow-signed",
    "_xmlsignatures/origin.sigs", "_xmlsignatures/sig1.xml",
    options=Options(second_engine=False, allow_signed=True),
)  # fmt: skip
def signed(path: Path) -> Path:
    return _signed(path)


@kind("digital signatures, without --allow-signed", refused="digitally signed")
def signed_and_not_told(path: Path) -> Path:
    return _signed(path)


def _signed(path: Path) -> Path:
    relation = f"{_PACKAGE}/relationships/digital-signature"
    signature = (
        '<Signature xmlns="http://www.w3.org/2000/09/xmldsig#" Id="idPackageSignature"><SignedInfo>'
        '<CanonicalizationMethod Algorithm="http://www.w3.org/TR/2001/REC-xml-c14n-20010315"/></SignedInfo>'
        "<SignatureValue>aW52ZW50ZWQ=</SignatureValue></Signature>"
    )
    origin, kinds = "_xmlsignatures/origin.sigs", "application/vnd.openxmlformats-package.digital-signature"
    return register(
        path,
        P(origin, b"", "", f"{relation}/origin", ""),
        P("_xmlsignatures/sig1.xml", signature, f"{kinds}-xmlsignature+xml", f"{relation}/signature", origin),
        suffixes={"sigs": f"{kinds}-origin"},
    )


@kind(
    "macros, their own signature, ribbon buttons",
    "xl/vbaProject.bin", "xl/vbaProjectSignature.bin", "customUI/customUI14.xml",
    suffix=".xlsm",
)  # fmt: skip
def macros(path: Path) -> Path:
    ribbon = f'<customUI xmlns="{MORE}/2009/07/customui"><ribbon><tabs/></ribbon></customUI>'
    return register(
        path,
        P("xl/vbaProjectSignature.bin", _NOISE, "application/vnd.ms-office.vbaProjectSignature",
          f"{MORE}/2006/relationships/vbaProjectSignature", "xl/vbaProject.bin"),
        P("customUI/customUI14.xml", ribbon, "", f"{MORE}/2007/relationships/ui/extensibility", ""),
        macros=True,
        heads={"Dies": '<sheetPr codeName="Sheet1"/>'},
    )  # fmt: skip


@kind(
    "links to other workbooks, with what they last said",
    "xl/externalLinks/link1.xml", "xl/externalLinks/link2.xml",
    values={**FRESH, "Dies!F1": 8.0},
)  # fmt: skip
def external_links(path: Path) -> Path:
    said = (
        f'<externalLink xmlns="{MAIN}" xmlns:r="{RELATIONS}"><externalBook r:id="rId1"><sheetNames><sheetName '
        f'val="P"/>'
        '</sheetNames><sheetDataSet><sheetData sheetId="0"><row r="1"><cell r="A1"><v>8</v></cell></row>'
        "</sheetData>"
        "</sheetDataSet></externalBook></externalLink>"
    )
    ole = (
        f'<externalLink xmlns="{MAIN}" xmlns:r="{RELATIONS}"><oleLink r:id="rId1" progId="Invented.1"/>'
        "</externalLink>"
    )
    listed_links = "".join(f'<externalReference r:id="{number}"/>' for number in ("rIdX", "rIdY"))
    link, kinds = "xl/externalLinks/link1.xml", f"{SPREAD}.externalLink+xml"
    return register(
        path,
        P(link, said, kinds, "externalLink", id="rIdX"),
        P("file:///C:/invented/presses & dies.xlsx", None, "", "externalLinkPath", link, "rId1", outside=True),
        P("xl/externalLinks/link2.xml", ole, kinds, "externalLink", id="rIdY"),
        P(
            "file:///C:/invented/note.inv",
            None,
            "",
            "oleObject",
            "xl/externalLinks/link2.xml",
            "rId1",
            outside=True,
        ),
        cells={"F1": F("[1]P!$A$1", 8.0)},
        book=f"<externalReferences>{listed_links}</externalReferences>",
    )


@kind("chart sheets, dialogue sheets and macro sheets among the sheets", "xl/chartsheets/sheet9.xml")
def other_sheets(path: Path) -> Path:
    plain = "<{0} xmlns='{1}'><sheetViews><sheetView workbookViewId='0'/></sheetViews></{0}>"
    charts = "xl/chartsheets/sheet9.xml"
    entries = "".join(
        f'<sheet name="{word}" sheetId="{n}" r:id="rIdK{n}"/>' for n, word in ((7, "M"), (8, "D"), (9, "C"))
    )
    return register(
        path,
        P(charts, plain.format("chartsheet", MAIN), f"{SPREAD}.chartsheet+xml", "chartsheet", id="rIdK9"),
        P("xl/dialogsheets/sheet8.xml", plain.format("dialogsheet", MAIN), f"{SPREAD}.dialogsheet+xml",
          "dialogsheet", id="rIdK8"),
        P("xl/macrosheets/sheet7.xml", f'<xm:macrosheet xmlns:xm="{MORE}/excel/2006/main"/>',
          "application/vnd.ms-excel.macrosheet+xml", f"{MORE}/2006/relationships/xlMacrosheet", id="rIdK7"),
        P("xl/drawings/drawing9.xml", _SLICED, f"{TYPES}.drawing+xml", "drawing", charts, "rId1"),
        sheets=entries,
    )  # fmt: skip


@kind("calculation chain, volatile dependencies, data model, revisions", "xl/calcChain.xml", "xl/model/item.data")
def chains_and_models(path: Path) -> Path:
    chain = f'<calcChain xmlns="{MAIN}"><c r="E1" i="1"/><c r="D1" i="1"/></calcChain>'
    return register(
        path,
        P("xl/calcChain.xml", chain, f"{SPREAD}.calcChain+xml", "calcChain"),
        P("xl/volatileDependencies.xml", f'<volTypes xmlns="{MAIN}"/>', f"{SPREAD}.volatileDependencies+xml",
          "volatileDependencies"),
        P("xl/model/item.data", _NOISE * 9, "application/vnd.openxmlformats-officedocument.model+data",
          f"{MORE}/2007/relationships/powerPivotData"),
        P("xl/revisions/revisionHeaders.xml", f'<headers xmlns="{MAIN}" guid="{{0}}"/>',
          f"{SPREAD}.revisionHeaders+xml", "revisionHeaders"),
        P("xl/namedSheetViews/namedSheetView1.xml",
          f'<namedSheetViews xmlns="{MORE}/spreadsheetml/2019/namedsheetviews"/>',
          "application/vnd.ms-excel.namedsheetviews+xml", f"{MORE}/2019/04/relationships/namedSheetView", SHEET),
    )  # fmt: skip


@kind("parts that nobody knows or points to, zips within the zip", "notes/inner.zip", "mimetype", "xl/empty")
def unknown_parts(path: Path) -> Path:
    inner = register(path.with_name("inner.xlsx")).read_bytes()
    return register(
        path,
        P("notes/inner.zip", inner),
        P("mimetype", "application/vnd.invented"),
        P("xl/empty", b""),
        P("xl/worksheets/sheet99.xml", b"<not well formed"),
        P("xl/worksheets/_rels/sheet99.xml.rels", b"neither"),
        P("notes/äöü 金型.txt", "kept"),
    )
