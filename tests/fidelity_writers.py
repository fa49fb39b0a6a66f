"""Workbooks as several programs write them: XlsxWriter, openpyxl, LibreOffice, exceljs, SheetJS, web services."""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
import xlsxwriter
from books import Part, force
from fidelity_kinds import MORE, RELATIONS, SHEET, SPREAD, TYPES, kind, register
from headless_office import convert
from parts import MAIN, rewritten

_CORPUS = Path(__file__).parent / "corpus" / "books"
_NAMES = ["Dies", "It's & <more>", "Werkzeuge äöü", "金型", "Матрицы", "قوالب"]
_TOTAL = sum(force(100 + row, 2, 310) for row in range(1, 12))
_VALUES = {"Dies!E2": force(101, 2, 310)} | {f"{name}!A2": _TOTAL / 0.8 for name in _NAMES[1:]}
_MEDIA = ("xl/charts/chart1.xml", "xl/tables/table1.xml", "xl/metadata.xml", "xl/comments1.xml")
_WRITER, _OFFICE = "XlsxWriter", "LibreOffice"


@kind("a register with all that XlsxWriter can put in", *_MEDIA, how=_WRITER, values=_VALUES)
def by_xlsxwriter(path: Path) -> Path:
    book = xlsxwriter.Workbook(path)
    bold = book.add_format({"bold": True})
    sheets = [book.add_worksheet(name) for name in _NAMES]
    dies = sheets[0]
    headings = [{"header": heading} for heading in ("die", "L", "t", "tau", "F")]
    dies.add_table(0, 0, 11, 4, {"name": "tDies", "columns": headings})
    for row in range(1, 12):
        dies.write_row(row, 0, [f"D{row}", 100.0 + row, 2.0, 310.0])
        dies.write_formula(row, 4, f"=PF_SHEARING_FORCE(B{row + 1},C{row + 1},D{row + 1})", None, 0)
    dies.write_rich_string("G1", "rich ", bold, "text", " here")
    dies.write_dynamic_array_formula("H2:H4", "=_xlfn._xlws.SORT(B2:B4)", None, 101)
    dies.write_column("H3", [102, 103])
    dies.write_array_formula("I2:I3", "{=B2:B3*2}", None, 202)
    dies.write("I3", 204)
    dies.write_comment("E2", "look at the plate", {"author": "shop"})
    dies.insert_button("K2", {"macro": "again", "caption": "Again"})
    dies.insert_checkbox("K6", True)
    dies.add_sparkline("J2", {"range": "Dies!B2:D2"})
    dies.conditional_format("E2:E12", {"type": "data_bar"})
    dies.data_validation("C2:C12", {"validate": "decimal", "criteria": ">", "value": 0})
    dies.merge_range("G20:I21", "merged", bold)
    dies.set_row(5, None, None, {"hidden": True})
    dies.write_url("G3", "https://example.org/", string="link")
    dies.protect()
    chart = book.add_chart({"type": "column"})
    chart.add_series({"values": "=Dies!$E$2:$E$12"})
    dies.insert_chart("L2", chart)
    for sheet in sheets[1:]:
        sheet.write_formula("A1", "=SUM(Dies!E2:E12)", None, 0)
        sheet.write_formula("A2", "=PF_REQUIRED_CAPACITY(A1,0.8)", None, 0)
    sheets[2].hide()
    sheets[3].very_hidden()
    book.define_name("rate", "=Dies!$C$2")
    book.set_properties({"title": "invented register", "comments": "nothing here is real"})
    book.close()
    return path


@kind("the same register, dates from 1904", *_MEDIA, how=f"{_WRITER}, then one attribute by hand", values=_VALUES)
def from_1904(path: Path) -> Path:
    old, new = b"<workbookPr ", b'<workbookPr date1904="1" '
    return rewritten(by_xlsxwriter(path), lambda _, part: part.replace(old, new))


@kind(
    "the same register in the strict form", *_MEDIA,
    how=f"{_WRITER}, then namespaces by hand", values=_VALUES, openpyxl=False,
)  # fmt: skip
def strict(path: Path) -> Path:
    new = "http://purl.oclc.org/ooxml"
    relations = b"http://schemas.openxmlformats.org/officeDocument/2006/relationships"

    def changed(_: str, part: bytes) -> bytes:
        part = part.replace(MAIN.encode(), f"{new}/spreadsheetml/main".encode())
        return part.replace(relations, f"{new}/officeDocument/relationships".encode())

    return rewritten(by_xlsxwriter(path), changed)


@kind("the same register, loaded and saved by openpyxl", SHEET, how="openpyxl", values=_VALUES)
def by_openpyxl(path: Path) -> Path:
    openpyxl.load_workbook(by_xlsxwriter(path)).save(path)
    return path


@kind("the same register, opened and saved by LibreOffice", SHEET, how=_OFFICE, values=_VALUES)
def by_libreoffice(path: Path) -> Path:
    folder = path.parent / "office"
    folder.mkdir()
    shutil.copy(convert(by_xlsxwriter(path), folder, recalculate=False), path)
    shutil.rmtree(folder)
    return path


@kind("long sheets written row by row, texts within cells", SHEET, how=f"{_WRITER}, constant memory",
      values={f"Dies!D{row}": force(row, 2, 310) for row in (1, 150, 300)})  # fmt: skip
def row_by_row(path: Path) -> Path:
    with xlsxwriter.Workbook(path, {"constant_memory": True}) as book:
        sheet = book.add_worksheet("Dies")
        for row in range(1, 301):
            sheet.write_row(row - 1, 0, [row, 2, f"310 MPa & {row}"[:7]])
            sheet.write_formula(row - 1, 3, f"=PF_SHEARING_FORCE(A{row},B{row},C{row})")
    return path


@kind("sheets without any stored result, written as they come", SHEET, how="openpyxl, write-only",
      values={"Dies!D1": 62.0, "Dies!E1": 124.0})  # fmt: skip
def write_only(path: Path) -> Path:
    book = openpyxl.Workbook(write_only=True)
    book.create_sheet("Dies").append([100.0, 2.0, 310.0, "=PF_SHEARING_FORCE(A1,B1,C1)", "=D1*2"])
    book.save(path)
    return path


_FORCES = {f"Dies!E{row}": force(99 + row, 2, 310) for row in (2, 3, 4)}


@kind(
    "a register with table, picture, note, shared formulas", "xl/media/image1.png", "xl/tables/table1.xml",
    how="exceljs", values={**_FORCES, "Dies!F3": 2 * _FORCES["Dies!E3"], "Ärger 金型!A1": sum(_FORCES.values())},
)  # fmt: skip
def by_exceljs(path: Path) -> Path:
    return Path(shutil.copy(_CORPUS / "by_exceljs.xlsx", path))


@kind("a register with note, metadata, names, impossible dates in the zip", "xl/comments1.xml", "xl/metadata.xml",
      how="SheetJS", values={**_FORCES, "Dies!F2": "F = 62.62"})  # fmt: skip
def by_sheetjs(path: Path) -> Path:
    return Path(shutil.copy(_CORPUS / "by_sheetjs.xlsx", path))


@kind(
    "exports of web services: own functions wrapped, many digits, no properties",
    "xl/sharedStrings.xml", "xl/drawings/drawing1.xml",
    values={"Dies!C1": 62.0, "Dies!C2": 31.0, "Dies!D2": 31 * 12.3456789012345},
)  # fmt: skip
def web_export(path: Path) -> Path:
    strings = f'<sst xmlns="{MAIN}" count="1" uniqueCount="1"><si><t>100 mm</t></si></sst>'
    drawing = "http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing"
    wrapped = 'IFERROR(__xludf.DUMMYFUNCTION("AVERAGE.WEIGHTED(A1:A2,B1:B2)"),12.3456789012345678)'
    sheet = (
        f'<worksheet xmlns="{MAIN}" xmlns:r="{RELATIONS}" xmlns:mx="{MORE}/mac/excel/2008/main"><sheetPr>'
        '<outlinePr summaryBelow="0"/></sheetPr><sheetViews><sheetView workbookViewId="0"/></sheetViews>'
        '<sheetFormatPr customHeight="1" defaultColWidth="12.63" defaultRowHeight="15.75"/><sheetData>'
        '<row r="1"><c r="A1" s="1" t="s"><v>0</v></c><c r="B1" s="1"/><c r="C1" s="2" t="str">'
        '<f t="shared" ref="C1:C2" si="1">PF_SHEARING_FORCE(A1,2,310)</f><v>#NAME?</v></c></row>'
        '<row r="2" ht="15.75" customHeight="1"><c r="A2"><v>50.00000000000000000</v></c>'
        '<c r="B2" t="str"><f>IFERROR(__xludf.DUMMYFUNCTION("""COMPUTED_VALUE"""),"kept")</f><v>kept</v></c>'
        '<c r="C2" t="e"><f t="shared" si="1"/><v>#NAME?</v></c>'
        f'<c r="D2"><f>C2*F2</f><v>0.30000000000000004441</v></c><c r="E2"><f>{wrapped}</f>'
        '<v>12.3456789012345</v></c><c r="F2"><v>12.345678901234500000</v></c></row>'
        '</sheetData><drawing r:id="rId1"/></worksheet>'
    )
    book = register(
        path,
        Part("xl/sharedStrings.xml", strings, f"{SPREAD}.sharedStrings+xml", "sharedStrings"),
        Part("xl/drawings/drawing1.xml", f'<xdr:wsDr xmlns:xdr="{drawing}"/>', f"{TYPES}.drawing+xml", "drawing",
             SHEET, "rId1"),
    )  # fmt: skip
    return rewritten(book, lambda name, part: sheet.encode() if name == SHEET else part)
