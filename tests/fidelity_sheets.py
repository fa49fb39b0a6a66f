"""Workbooks whose sheets hold every kind of cell, in sheet parts written in every way the standard allows."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from books import F, Made, Styled, force, make
from books import Part as P
from fidelity_kinds import CELLS, FRESH, MORE, SHEET, SPREAD, X14, XM, ext, kind, register
from parts import MAIN, rewritten

from pressfuncs.errors import CellError

_STRICT = "http://purl.oclc.org/ooxml"
_TRANSITIONAL = "http://schemas.openxmlformats.org"
_DECLARED = '<?xml version="1.0" encoding="UTF-8" standalone="yes"?>\r\n'


def _sheet(path: Path, change: Callable[[bytes], bytes]) -> Path:
    """Change the sheet part of a workbook."""
    return rewritten(path, lambda name, part: change(part) if name == SHEET else part)


def _row(path: Path, xml: str) -> Path:
    """Put rows after those of the register, as they are."""
    return _sheet(path, lambda part: part.replace(b"</sheetData>", xml.encode() + b"</sheetData>"))


def _prefixed(part: bytes) -> bytes:
    return re.sub(rb"<(/?)([A-Za-z])", rb"<\1x:\2", part).replace(b" xmlns=", b" xmlns:x=")


@kind("prefixes on every element (x:c, x:v), in all spreadsheet parts", SHEET, office=True)
def prefixed(path: Path) -> Path:
    def changed(name: str, part: bytes) -> bytes:
        return _prefixed(part) if MAIN.encode() in part else part

    return rewritten(register(path), changed)


@kind("the strict form of the standard", SHEET, openpyxl=False)
def strict(path: Path) -> Path:
    def changed(_: str, part: bytes) -> bytes:
        part = part.replace(MAIN.encode(), f"{_STRICT}/spreadsheetml/main".encode())
        old = f"{_TRANSITIONAL}/officeDocument/2006/relationships".encode()
        return part.replace(old, f"{_STRICT}/officeDocument/relationships".encode())

    return rewritten(register(path), changed)


@kind("dates counted from 1904", SHEET, values={**FRESH, "Dies!G1": 62.0})
def from_1904(path: Path) -> Path:
    day = F("IF(DATE(2024,1,2)=F1,D1,0)", 0.0)
    return register(path, cells={"F1": Styled(43_831.0), "G1": day}, date1904=True)


@kind('dates as texts (t="d"), booleans, errors', SHEET, values={**FRESH, "Dies!G2": 62.0})
def typed_values(path: Path) -> Path:
    row = (
        '<row r="2"><c r="A2" s="1" t="d"><v>2024-05-06T00:00:00</v></c><c r="B2" t="b"><v>1</v></c>'
        '<c r="C2" t="e"><v>#DIV/0!</v></c><c r="D2" t="b"><f>D1&gt;1</f><v>1</v></c>'
        '<c r="E2" t="e"><f>C2+D1</f><v>#DIV/0!</v></c><c r="F2" t="n"><v>1.50</v></c>'
        '<c r="G2"><f>IF(B2,D1)</f><v>0</v></c></row>'
    )
    return _row(register(path), row)


@kind("UTF-16 sheets, strings and names, with byte order marks", SHEET, "xl/sharedStrings.xml", office=True)
def utf16(path: Path) -> Path:
    texts = f'<sst xmlns="{MAIN}" count="1" uniqueCount="1"><si><t>Länge 金</t></si></sst>'
    book = register(path, P("xl/sharedStrings.xml", texts, f"{SPREAD}.sharedStrings+xml", "sharedStrings"))
    _row(book, '<row r="2"><c r="A2" t="s"><v>0</v></c></row>')

    def changed(name: str, part: bytes) -> bytes:
        text = _DECLARED.replace("UTF-8", "UTF-16") + part.decode()
        return text.encode("utf-16") if name in (SHEET, "xl/sharedStrings.xml", "xl/workbook.xml") else part

    return rewritten(book, changed)


@kind("UTF-16 with the higher byte first", SHEET)
def utf16_other_way(path: Path) -> Path:
    head = _DECLARED.replace("UTF-8", "UTF-16")
    return _sheet(register(path), lambda part: b"\xfe\xff" + (head + part.decode()).encode("utf-16-be"))


@kind("byte order marks before UTF-8, in all parts", SHEET)
def marked(path: Path) -> Path:
    return rewritten(register(path), lambda _, part: b"\xef\xbb\xbf" + _DECLARED.encode() + part)


@kind("one-byte encodings (windows-1252)", SHEET, values={**FRESH, "Dies!A2": "Länge"})
def one_byte(path: Path) -> Path:
    head = _DECLARED.replace("UTF-8", "windows-1252")
    book = register(path, cells={"A2": "Länge"})
    return _sheet(book, lambda part: (head + part.decode()).encode("cp1252"))


@kind("comments, marked sections, instructions, single quotes, indentation", SHEET)
def by_other_hands(path: Path) -> Path:
    def changed(part: bytes) -> bytes:
        part = re.sub(rb'="([^"]*)"', rb"='\1'", part).replace(b"><", b">\r\n\t<")
        part = part.replace(b"<f>D1*2</f>", b"<f><![CDATA[D1*2]]></f>")
        decoy = b"<!-- <sheetData><c r='D1'><f>1</f><v>9</v></c></sheetData> --><?shop keep?>"
        return part.replace(b"<sheetData>", decoy + b"<sheetData >")

    return _sheet(register(path), changed)


@kind("cells and rows without addresses", SHEET)
def without_addresses(path: Path) -> Path:
    return _sheet(register(path), lambda part: re.sub(rb' r="[A-Z]*[0-9]+"', b"", part))


@kind("rows and cells out of order", SHEET)
def out_of_order(path: Path) -> Path:
    late = '<row r="3"><c r="B3"><v>1</v></c><c r="A3"><f>D1</f><v>1</v></c></row><row r="2"><c r="A2"/></row>'

    def changed(part: bytes) -> bytes:
        cells = re.findall(rb"<c .*?</c>", part)
        return re.sub(rb'(<row r="1">).*(</row>)', lambda row: row[1] + b"".join(cells[::-1]) + row[2], part)

    return _row(_sheet(register(path), changed), late)


@kind("extensions and formulas of other kinds within cells", SHEET, values={**FRESH, "Dies!A2": 62.0})
def within_cells(path: Path) -> Path:
    row = (
        '<row r="2"><c r="A2"><f ca="1" aca="0" xml:space="preserve"> D1 </f><v>1</v><extLst><ext uri="{0}"/>'
        "</extLst></c>"
        '<c r="B2" ph="1" s="0" t="str"><f>"a"</f><v>a</v></c></row>'
    )
    return _row(register(path), row)


@kind("attributes of newer applications: revision ids, spans, descents", SHEET)
def newer_attributes(path: Path) -> Path:
    def changed(part: bytes) -> bytes:
        more = (
            f' xmlns:mc="{_TRANSITIONAL}/markup-compatibility/2006" mc:Ignorable="x14ac xr" '
            f'xmlns:x14ac="{MORE}/spreadsheetml/2009/9/ac" xmlns:xr="{MORE}/spreadsheetml/2014/revision" '
            'xr:uid="{00000000-0001-0000-0000-000000000000}"><dimension ref="A1:E1"/>'
        )
        part = part.replace(b"><sheetData>", more.encode() + b"<sheetData>")
        return part.replace(
            b'<row r="1"', b'<row r="1" spans="1:5" ht="15.75" customHeight="1" x14ac:dyDescent="0.25"'
        )

    return _sheet(register(path), changed)


@kind(
    "inline and rich strings, reading aids", SHEET, "xl/sharedStrings.xml",
    values={**FRESH, "Dies!D2": force(50, 2, 310), "Dies!D3": force(70, 2, 310), "Dies!D4": 62.0},
    also="the inline text that a formula cell stored",
    undone=lambda part: re.sub(rb"</f><is>.*?</is>", b"</f>", part),
)  # fmt: skip
def strings(path: Path) -> Path:
    rich = "<r><t>50</t></r><r><rPr><b/><sz val='11'/></rPr><t xml:space='preserve'> mm</t></r>"
    aids = "<r><t>70</t></r><r><t xml:space='preserve'> mm</t></r><rPh sb='0' eb='1'><t>no number</t></rPh>"
    table = f"<sst xmlns='{MAIN}' count='2' uniqueCount='2'><si>{aids}</si><si><t>seen</t></si></sst>"
    book = register(path, P("xl/sharedStrings.xml", table, f"{SPREAD}.sharedStrings+xml", "sharedStrings"))
    call = "<f>PF_SHEARING_FORCE(A{0},B$1,C$1)</f>"
    return _row(
        book,
        f'<row r="2"><c r="A2" t="inlineStr"><is>{rich}</is></c><c r="D2">{call.format(2)}<v>0</v></c></row>'
        f'<row r="3"><c r="A3" t="s"><v>0</v></c><c r="D3" t="s">{call.format(3)}<v>1</v></c></row>'
        f'<row r="4"><c r="A4"><v>100</v></c><c r="D4" t="inlineStr">{call.format(4)}<is><t>old</t></is></c>'
        f"</row>",
    )


@kind(
    "texts with blanks and line ends at their edges (xml:space)", SHEET, values={**FRESH, "Dies!F1": "  62 kN \n"}
)
def edges(path: Path) -> Path:
    text = F('"  "&D1&" kN "&CHAR(10)', "  1 kN \n")
    return _sheet(
        register(path, cells={"F1": text, "A2": "  kept  "}),
        lambda part: part.replace(b"<v>  1", b'<v xml:space="preserve">  1'),
    )


_SHARED = "PF_SHEARING_FORCE(A1,B$1,C$1)"


@kind(
    "shared formulas", SHEET,
    values={f"Dies!D{row}": force(99 + row, 2, 310) for row in range(1, 5)},
)  # fmt: skip
def shared(path: Path) -> Path:
    cells = {f"A{row}": 99.0 + row for row in range(1, 5)}
    first = {"D1": F(_SHARED, 1.0, 't="shared" ref="D1:D4" si="0"')}
    return register(
        path, cells=cells | first | {f"D{row}": F("", 1.0, 't="shared" si="0"') for row in range(2, 5)}
    )


@kind(
    "array formulas over several cells", SHEET,
    values={**FRESH, **{f"Dies!F{row}": force(10 * row, 2, 310) for row in (1, 2, 3)}, "Dies!G2": 124.0},
)  # fmt: skip
def arrays(path: Path) -> Path:
    cells = {"H1": 10.0, "H2": 20.0, "H3": 30.0, "F2": 1.0, "F3": 1.0, "G2": 1.0}
    ours = F("PF_SHEARING_FORCE(H1:H3,B1,C1)", 1.0, 't="array" ref="F1:F3"')
    return register(path, cells=cells | {"F1": ours, "G1": F("D1*{1;2}", 1.0, 't="array" ref="G1:G2"')})


@kind("data tables (what-if)", SHEET, values={**FRESH, "Dies!H2": 5.0})
def data_tables(path: Path) -> Path:
    table = F("", 5.0, 't="dataTable" ref="H2:H3" dt2D="0" dtr="0" r1="J1"')
    return register(path, cells={"J1": 1.0, "G2": 1.0, "G3": 2.0, "H1": F("J1*5", 5.0), "H2": table, "H3": 10.0})


@kind("hidden and very hidden sheets", "xl/worksheets/sheet3.xml", values={"Dies!D1": 62.0, "Deep!A1": 77.5})
def hidden(path: Path) -> Path:
    margin = {"A1": F("PF_REQUIRED_CAPACITY(Dies!D1,0.8)", 1.0)}
    sheets = {"Dies": CELLS, "Behind": {"A1": F("Deep!A1", 1.0)}, "Deep": margin}
    return make(path, sheets, Made(states={"Behind": "hidden", "Deep": "veryHidden"}))


_SCRIPTS = [
    "It's & <more>",
    "Werkzeuge äöü",
    "金型 2",
    "Матрицы",
    "قوالب",
    "🔩",
    "A1",
    "R1C1",
    "O''Dd",
    "1st-half",
]


@kind(
    "sheet names with quotes, signs, other scripts, and that look like cells", "xl/worksheets/sheet11.xml",
    values={f"{name}!A1": 77.5 for name in _SCRIPTS} | {"Dies!F1": 775.0},
)  # fmt: skip
def sheet_names(path: Path) -> Path:
    total = "+".join(f"'{name.replace(chr(39), chr(39) * 2)}'!A1" for name in _SCRIPTS)
    call = {"A1": F("PF_REQUIRED_CAPACITY(Dies!D1,0.8)", 1.0)}
    return make(path, {"Dies": CELLS | {"F1": F(total, 1.0)}} | dict.fromkeys(_SCRIPTS, call))


@kind("merged cells, protection, panes, filters, breaks, scenarios", SHEET)
def rest_of_a_sheet(path: Path) -> Path:
    head = (
        '<sheetPr filterMode="1"><tabColor rgb="FF112233"/></sheetPr><dimension ref="A1:E9"/><sheetViews>'
        "<sheetView "
        'workbookViewId="0"><pane ySplit="1" topLeftCell="A2" state="frozen"/></sheetView></sheetViews><cols>'
        '<col min="1" max="2" width="9.5" outlineLevel="1" customWidth="1"/></cols>'
    )
    tail = (
        '<sheetProtection algorithmName="SHA-512" hashValue="aW52ZW50ZWQ=" saltValue="c2FsdA==" '
        'spinCount="100000" '
        'sheet="1"/><protectedRanges><protectedRange sqref="A1" name="in"/></protectedRanges><scenarios><scenario '
        'name="s" count="1"><inputCells r="A1" val="5"/></scenario></scenarios><autoFilter ref="A1:E9"/>'
        "<mergeCells "
        'count="1"><mergeCell ref="D1:D1"/></mergeCells><phoneticPr fontId="0"/><conditionalFormatting sqref="D1">'
        '<cfRule type="expression" priority="1"><formula>PF_SHEARING_FORCE($A1,$B1,$C1)&gt;9</formula></cfRule>'
        '</conditionalFormatting><dataValidations count="1"><dataValidation type="custom" sqref="A1">'
        "<formula1>D1&gt;0"
        '</formula1></dataValidation></dataValidations><printOptions gridLines="1"/><pageMargins left="0.7" '
        'right="0.7" top="0.75" bottom="0.75" header="0.3" footer="0.3"/><rowBreaks count="1"><brk id="5"/>'
        "</rowBreaks>"
        '<ignoredErrors><ignoredError sqref="D1" calculatedColumn="1"/></ignoredErrors>'
    )
    return register(path, heads={"Dies": head}, tails={"Dies": tail}, rows='ht="20" hidden="0"')


@kind("sparklines, conditional formats and validations in extensions", SHEET)
def sheet_extensions(path: Path) -> Path:
    spark = (
        f"<x14:sparklineGroups {X14} {XM}><x14:sparklineGroup><x14:colorSeries rgb='FF376092'/><x14:sparklines>"
        "<x14:sparkline><xm:f>Dies!A1:D1</xm:f><xm:sqref>F1</xm:sqref></x14:sparkline></x14:sparklines>"
        "</x14:sparklineGroup></x14:sparklineGroups>"
    )
    formats = (
        f"<x14:conditionalFormattings {X14}><x14:conditionalFormatting {XM}><x14:cfRule type='dataBar' "
        "id='{12345678-0000-4000-8000-000000000001}'><x14:dataBar><x14:cfvo type='autoMin'/><x14:cfvo "
        "type='autoMax'/>"
        "</x14:dataBar></x14:cfRule><xm:sqref>D1</xm:sqref></x14:conditionalFormatting>"
        "</x14:conditionalFormattings>"
    )
    checks = (
        f"<x14:dataValidations {X14} {XM} count='1'><x14:dataValidation type='list'><x14:formula1>"
        f"<xm:f>Dies!$A$1</xm:f>"
        "</x14:formula1><xm:sqref>B1</xm:sqref></x14:dataValidation></x14:dataValidations>"
    )
    content = (
        ext("05C60535-1F16-4fd2-B633-F4F36F0B64E0", spark)
        + ext("78C0D931-6437-407d-A8EE-F0AAD7539E65", formats)
        + ext("CCE6A557-97BC-4b89-ADB6-D9C93CAAB3DF", checks)
    )
    return register(path, extensions={"Dies": content})


_METADATA = (
    f'<metadata xmlns="{MAIN}" xmlns:xda="{MORE}/spreadsheetml/2017/dynamicarray"><metadataTypes count="1">'
    '<metadataType name="XLDAPR" minSupportedVersion="120000" cellMeta="1"/></metadataTypes><futureMetadata '
    'name="XLDAPR" count="1"><bk><extLst><ext uri="{bdbb8cdc-fa1e-496e-a857-3c3f30c029c3}">'
    '<xda:dynamicArrayProperties fDynamic="1" fCollapsed="0"/></ext></extLst></bk></futureMetadata>'
    '<cellMetadata count="1"><bk><rc t="1" v="0"/></bk></cellMetadata></metadata>'
)


def _metadata(content: str) -> P:
    return P("xl/metadata.xml", content, f"{SPREAD}.sheetMetadata+xml", "sheetMetadata")


@kind(
    "dynamic arrays with metadata, which keep their size", "xl/metadata.xml",
    values={**FRESH, **{f"Dies!F{row}": force(10 * row, 2, 310) for row in (1, 2, 3)}},
)  # fmt: skip
def dynamic(path: Path) -> Path:
    spill = F("PF_SHEARING_FORCE(H1:H3,B1,C1)", CellError("#NAME?"), 't="array" ref="F1:F3"', 'cm="1"')
    cells = {"F1": spill, "F2": 1.0, "F3": 1.0, "H1": 10.0, "H2": 20.0, "H3": 30.0}
    return register(path, _metadata(_METADATA), cells=cells)


def _without_spill(part: bytes) -> bytes:
    """Take out what a spill that has grown brings: its new extent, and the cells that it fills."""
    part = re.sub(rb'ref="(A1:H|F1:F)[0-9]"', rb'ref="\g<1>2"', part)
    return re.sub(rb'<c r="F[2-9]"></c>|<row r="4"></row>', b"", part)


@kind(
    "dynamic arrays that grow", "xl/metadata.xml",
    values={**FRESH, **{f"Dies!F{row}": force(10 * row, 2, 310) for row in (1, 2, 3, 4)}},
    also="the extents of the array and of the sheet, the cells and rows it now fills", undone=_without_spill,
)  # fmt: skip
def growing(path: Path) -> Path:
    spill = F("PF_SHEARING_FORCE(H1:H4,B1,C1)", 1.0, 't="array" ref="F1:F2"', 'cm="1"')
    cells = {"F1": spill, "F2": 1.0, "H1": 10.0, "H2": 20.0, "H3": 30.0, "H4": 40.0}
    return register(path, _metadata(_METADATA), cells=cells, heads={"Dies": '<dimension ref="A1:H2"/>'})


@kind(
    "rich values (linked data types, pictures in cells)", "xl/richData/rdrichvalue.xml", "xl/metadata.xml",
    also="the mark of a rich value (vm) on a formula cell that gets another value",
    undone=lambda part: part.replace(b' vm="1"><f>', b"><f>"),
)  # fmt: skip
def rich_values(path: Path) -> Path:
    rich = f"{MORE}/spreadsheetml/2017/richdata"
    kinds, relation = "application/vnd.ms-excel", f"{MORE}/2017/06/relationships"
    content = (
        f'<metadata xmlns="{MAIN}" xmlns:xlrd="{rich}"><metadataTypes count="1"><metadataType name="XLRICHVALUE" '
        'minSupportedVersion="120000"/></metadataTypes><futureMetadata name="XLRICHVALUE" count="1"><bk>'
        "<extLst><ext "
        'uri="{3e2802c4-a4d2-4d8b-9148-e3be6c30e623}"><xlrd:rvb i="0"/></ext></extLst></bk></futureMetadata>'
        '<valueMetadata count="1"><bk><rc t="1" v="0"/></bk></valueMetadata></metadata>'
    )
    values = f'<rvData xmlns="{rich}" count="1"><rv s="0"><v>-2146826273</v><v>13</v></rv></rvData>'
    shape = f'<rvStructures xmlns="{rich}" count="1"><s t="_error"><k n="errorType" t="i"/></s></rvStructures>'
    book = register(
        path,
        _metadata(content),
        P("xl/richData/rdrichvalue.xml", values, f"{kinds}.rdrichvalue+xml", f"{relation}/rdRichValue"),
        P("xl/richData/rdrichvaluestructure.xml", shape, f"{kinds}.rdrichvaluestructure+xml",
          f"{relation}/rdRichValueStructure"),
    )  # fmt: skip
    _row(book, '<row r="2"><c r="A2" t="e" vm="1"><v>#VALUE!</v></c></row>')
    return _sheet(book, lambda part: part.replace(b'<c r="D1"><f>', b'<c r="D1" vm="1"><f>'))


@kind(
    "names that are formulas or LAMBDAs, hidden names, print areas", "xl/workbook.xml",
    values={**FRESH, "Dies!F1": force(50, 2, 310), "Dies!G1": 62.0},
)  # fmt: skip
def names(path: Path) -> Path:
    lambda_name = "_xlfn.LAMBDA(_xlpm.length,_xlpm.thickness,_xlpm.length*_xlpm.thickness)"
    return register(
        path,
        cells={
            "F1": F("PF_SHEARING_FORCE(half,B1,tau)", 1.0),
            "G1": F("PF_SHEARING_FORCE(Dies!A1,sheet_t,C1)", 1.0),
        },
        names=[
            ("AREA_OF", lambda_name), ("half", "Dies!$A$1/2"), ("tau", "Dies!$C$1"), ("sheet_t", "Dies!$B$1", 0),
            ("_xlnm.Print_Area", "Dies!$A$1:$E$9", 0), ("länge", '"text & <more>"'), ("lost", "#REF!"),
        ],
    )  # fmt: skip


@kind(
    "functions under the names that add-ins give them", SHEET, "xl/externalLinks/link1.xml",
    values={**FRESH, "Dies!F1": 62.0, "Dies!G1": 62.0},
)  # fmt: skip
def add_in_names(path: Path) -> Path:
    call = "PF_SHEARING_FORCE(A1,B1,C1)"
    return register(
        path, cells={"F1": F(f"[1]!{call}", 1.0), "G1": F(f"_xll.{call}", 1.0)}, external="C:\\add in.xlam"
    )
